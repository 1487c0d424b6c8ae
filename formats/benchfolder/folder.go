package benchfolder

import (
	"errors"
	"fmt"
	"io/fs"
	"path"

	"underlamp"
	"underlamp/formats/benchfile"
	"underlamp/formats/feedfile"
	"underlamp/formats/photometricfile"
	"underlamp/formats/profilefile"
	"underlamp/formats/spectrumfile"
	"underlamp/science/photometry"
	"underlamp/science/spectrum"
)

// Files opens the photometric files, spectra, profiles and feeds of a folder for
// [benchfile.ReadWith]. It never leaves the folder. A spectrum that does not say
// whether it counts photons or energy is refused: read as the other, a red share
// would be wrong by a third.
func Files(folder fs.FS) benchfile.Files {
	return benchfile.Files{
		Photometry: func(name string) (*photometry.File, error) {
			f, err := folder.Open(name)
			if err != nil {
				return nil, plain(err)
			}
			defer f.Close()
			beside, err := fs.Sub(folder, path.Dir(name))
			if err != nil {
				beside = nil
			}
			return photometricfile.ReadBeside(f, beside)
		},
		Spectrum: func(name string) (spectrum.Spectrum, error) {
			f, err := folder.Open(name)
			if err != nil {
				return spectrum.Spectrum{}, plain(err)
			}
			defer f.Close()
			d, err := spectrumfile.Read(f)
			if err != nil {
				return spectrum.Spectrum{}, err
			}
			if !d.BasisKnown {
				return spectrum.Spectrum{}, fmt.Errorf("the file does not say whether it counts photons or energy; write photons (µmol) or energy (W) into the heading of its second column")
			}
			return d.Spectrum()
		},
		Profile: func(name string) (*underlamp.Profile, error) {
			f, err := folder.Open(name)
			if err != nil {
				return nil, plain(err)
			}
			defer f.Close()
			p, problems, err := profilefile.Read(f)
			if err != nil {
				return nil, err
			}
			if p == nil {
				return nil, problems
			}
			return p, nil
		},
		Feed: func(name string) (*underlamp.FeedMade, error) {
			f, err := folder.Open(name)
			if err != nil {
				return nil, plain(err)
			}
			defer f.Close()
			p, problems, err := feedfile.Read(f)
			if err != nil {
				return nil, err
			}
			if p == nil {
				return nil, problems
			}
			m := feedfile.Made(p)
			m.File = name
			return m, nil
		},
	}
}

// plain says in words of a person why a file did not open.
func plain(err error) error {
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return errors.New("there is no such file beside the bench file")
	case errors.Is(err, fs.ErrPermission):
		return errors.New("the file may not be read")
	}
	return err
}
