package api

import (
	"bytes"
	"errors"
	"math"
	"net/http"
	"slices"
	"time"

	"underlamp/app/photo"
	"underlamp/app/trial"
	"underlamp/app/trialbook"
	"underlamp/formats/photofile"
	"underlamp/science/plantlabel"
	"underlamp/store"
	"underlamp/wire"
)

// registerAge is how old what is known of the labels may be.
const registerAge = 20 * time.Second

// register is what the labels of all benches and trials stand for.
func (a *API) register() (photo.Register, error) {
	a.grown.Lock()
	if a.labels != nil && time.Since(a.labelsAt) < registerAge {
		defer a.grown.Unlock()
		return a.labels, nil
	}
	a.grown.Unlock()
	out := photo.Register{}
	add := func(all []photo.Label) {
		for _, l := range all {
			for _, clash := range out.Add(l.Subject) {
				a.o.Log.Warn("two labels have one code; give the plant another name", "bench", clash.Bench, "plant", clash.Plant, "trial", clash.Trial, "unit", clash.Unit)
			}
		}
	}
	ids, err := a.o.Benches.List()
	if err != nil {
		return nil, err
	}
	for _, id := range ids {
		if b, err := a.o.Benches.Get(id); err == nil && b != nil && b.Bench() != nil {
			add(photo.BenchLabels(id, b.Bench()))
		}
	}
	files, err := trialbook.Files(a.o.Folder)
	if err != nil {
		return nil, err
	}
	for _, file := range files {
		p, err := trialbook.Open(a.o.Folder, file)
		if err != nil {
			continue
		}
		s, err := trialbook.SheetOf(p.Trial, "", 0, a.lightOf)
		if err != nil {
			if s, err = trial.NewSheet(p.Trial, nil, trial.SheetOptions{}); err != nil {
				continue
			}
		}
		add(photo.TrialLabels(trialbook.Key(file), benchOf(p), s))
	}
	a.grown.Lock()
	defer a.grown.Unlock()
	a.labels, a.labelsAt = out, time.Now()
	return out, nil
}

type photoPath struct {
	benchPath
	Photo string `path:"photo" maxlen:"64"`
}

var pictureKinds = []string{"image/jpeg", "image/png", "image/webp"}

// large has one large picture in memory at a time.
func (c *Call) large(do func() error) error {
	select {
	case c.api.large <- struct{}{}:
		defer func() { <-c.api.large }()
		return do()
	case <-c.Context().Done():
		return c.Context().Err()
	}
}

func (a *API) photoOps() []Operation {
	return []Operation{
		op(Operation{ID: "listPhotos", Method: "GET", Path: "/benches/{bench}/photos", Tag: "Photos", Summary: "List the photos of a bench through time", Scopes: readsRounds},
			func(c *Call, p struct {
				benchPath
				Plant string `query:"plant" maxlen:"100" doc:"on which this plant was measured"`
				State string `query:"state" enum:"waiting|measured|refused" doc:"in this state"`
				Paging
			}, _ None) (wire.Page[wire.PhotoCard], error) {
				b, err := a.bench(c, p.Bench, nil)
				if err != nil {
					return wire.Page[wire.PhotoCard]{}, err
				}
				book, _, err := a.photoBook(c, b)
				if err != nil {
					return wire.Page[wire.PhotoCard]{}, err
				}
				all := []wire.PhotoCard{}
				for _, s := range book.Shots {
					x := cardOf(book, s)
					if (p.Plant == "" || slices.Contains(x.Plants, p.Plant)) && (p.State == "" || x.State == p.State) {
						all = append(all, x)
					}
				}
				return pageInOrder(c, p.Paging, all, func(x wire.PhotoCard) string { return x.ID })
			}),
		op(Operation{ID: "sendPhoto", Method: "POST", Path: "/benches/{bench}/photos", Tag: "Photos", Summary: "Send a photo of plants with their labels", Scopes: enters, Body: photofile.MaxBytes, Takes: pictureKinds, Status: http.StatusCreated, Errors: []int{http.StatusConflict},
			Doc: "The original is kept as it is, and measured in the background. The same picture under the same id is kept once; another one under it is a conflict. To say which plant it is and when it was taken, send an entry of the kind photo with the id."},
			func(c *Call, p struct {
				benchPath
				ID    string `query:"id" need:"yes" pattern:"^[A-Za-z0-9_-]{8,64}$" doc:"made by the sender"`
				Phone string `query:"phone" need:"yes" pattern:"^[A-Za-z0-9_-]{8,64}$" doc:"id of the phone or program"`
			}, data []byte) (wire.PhotoKept, error) {
				if _, _, _, err := a.roundsOf(c, p.Bench); err != nil {
					return wire.PhotoKept{}, err
				}
				err := photo.Receive(c.Context(), a.o.Keep, p.Bench, p.ID, p.Phone, data, a.o.Now())
				if err := photoFault(err); err != nil {
					return wire.PhotoKept{}, err
				}
				if a.o.Hints != nil {
					a.o.Hints()
				}
				c.Created("/benches/" + p.Bench + "/photos/" + p.ID)
				return wire.PhotoKept{ID: p.ID, State: string(photo.Waiting)}, nil
			}),
		op(Operation{ID: "getPhoto", Method: "GET", Path: "/benches/{bench}/photos/{photo}", Tag: "Photos", Summary: "What was read in a photo, or that it waits", Scopes: readsRounds},
			func(c *Call, p photoPath, _ None) (wire.Photo, error) {
				b, err := a.bench(c, p.Bench, nil)
				if err != nil {
					return wire.Photo{}, err
				}
				book, _, err := a.photoBook(c, b)
				if err != nil {
					return wire.Photo{}, err
				}
				s, ok := book.Shot(p.Photo)
				if !ok {
					return wire.Photo{}, missing("There is no such photo of this bench.", "It may not have been sent yet.")
				}
				return photoJSON(book, s), nil
			}),
		op(Operation{ID: "getPhotoPicture", Method: "GET", Path: "/benches/{bench}/photos/{photo}/picture", Tag: "Photos", Summary: "The photo itself, without what tells where it was taken", Scopes: readsRounds, Gives: pictureKinds},
			func(c *Call, p struct {
				photoPath
				Small bool `query:"small" doc:"480 pixels at most on its longest side, as JPEG"`
			}, _ None) (Raw, error) {
				if _, _, _, err := a.roundsOf(c, p.Bench); err != nil {
					return Raw{}, err
				}
				return a.picture(c, p.Bench, p.Photo, p.Small)
			}),
		op(Operation{ID: "getPhotoMade", Method: "GET", Path: "/benches/{bench}/photos/{photo}/made/{name}", Tag: "Photos", Summary: "A picture that was made of a photo", Scopes: readsRounds, Gives: []string{"image/jpeg"},
			Doc: "overlay shows what was taken for plant; each look names the picture of its plant alone; spot shows a spot with its surroundings."},
			func(c *Call, p struct {
				photoPath
				Name string `path:"name" maxlen:"80" example:"overlay"`
				Spot string `query:"spot" maxlen:"80" doc:"id of the spot, for the picture spot"`
			}, _ None) (Raw, error) {
				if _, _, _, err := a.roundsOf(c, p.Bench); err != nil {
					return Raw{}, err
				}
				var data []byte
				var err error
				if p.Name == "spot" {
					data, err = photo.MadeSpot(c.Context(), a.o.Keep, p.Bench, p.Photo, p.Spot)
				} else {
					data, err = photo.Made(c.Context(), a.o.Keep, p.Bench, p.Photo, p.Name)
				}
				if errors.Is(err, store.ErrNotFound) {
					return Raw{}, missing("There is no such picture of this photo.", "It may not have been measured yet.")
				}
				return Raw{Type: "image/jpeg", Body: data}, err
			}),
		op(Operation{ID: "judgeSpot", Method: "POST", Path: "/benches/{bench}/photos/{photo}/verdicts", Tag: "Photos", Summary: "Say of a spot whether it is burnt", Scopes: enters, Body: 4 << 10, Once: true,
			Doc: "Verdicts teach the program what burn looks like on this cultivar. The last one on a spot counts."},
			func(c *Call, p photoPath, v wire.PhotoVerdict) (wire.Photo, error) {
				b, err := a.bench(c, p.Bench, nil)
				if err != nil {
					return wire.Photo{}, err
				}
				book, _, err := a.photoBook(c, b)
				if err != nil {
					return wire.Photo{}, err
				}
				if v.ID == "" {
					v.ID = newID()
				}
				err = book.Say(c.Context(), a.o.Keep, photo.Verdict{ID: v.ID, Photo: p.Photo, By: c.By(v.By), Recorded: a.o.Now(), Spot: v.Spot, Burnt: v.Burnt, Cultivar: b.Bench().Crop.Cultivar})
				if errors.Is(err, store.ErrNotFound) {
					return wire.Photo{}, missing("There is no such spot in this photo.", "It may have been measured anew: read it again.")
				}
				if err := photoFault(err); err != nil {
					return wire.Photo{}, err
				}
				if book, _, err = a.photoBook(c, b); err != nil {
					return wire.Photo{}, err
				}
				s, _ := book.Shot(p.Photo)
				return photoJSON(book, s), nil
			}),
		op(Operation{ID: "getPhotoStrip", Method: "GET", Path: "/benches/{bench}/photos/strip", Tag: "Photos", Summary: "Plants through time, side by side at one scale", Scopes: readsRounds, Gives: []string{"image/png", "image/jpeg", "image/gif"},
			Doc: "The kind is chosen by format or by Accept; as GIF it is a film."},
			func(c *Call, p struct {
				benchPath
				Plant  []string `query:"plant" maxlen:"12" doc:"of these plants; of all that were measured, twelve at most, if none is said"`
				Format string   `query:"format" enum:"png|jpeg|gif" doc:"png if it is not said"`
				Width  int      `query:"width" min:"100" max:"4000" unit:"px" doc:"as it comes if it is not said"`
			}, _ None) (Raw, error) {
				b, err := a.bench(c, p.Bench, nil)
				if err != nil {
					return Raw{}, err
				}
				book, _, err := a.photoBook(c, b)
				if err != nil {
					return Raw{}, err
				}
				strip, err := book.Strip(c.Context(), a.o.Keep, b.Bench().Name, p.Plant, a.o.Zone())
				if err != nil {
					return Raw{}, missing(sentence(err), "Take photos with the labels beside the plants.")
				}
				format := p.Format
				if format == "" {
					kind, _ := c.kind()
					format = map[string]string{"image/jpeg": "jpeg", "image/gif": "gif"}[kind]
				}
				out := Raw{Type: "image/png"}
				err = c.large(func() (err error) {
					switch format {
					case "gif":
						out.Type = "image/gif"
						out.Body, err = strip.GIF(p.Width)
					case "jpeg":
						out.Type = "image/jpeg"
						out.Body, err = strip.JPEG(p.Width)
					default:
						out.Body, err = strip.PNG(p.Width)
					}
					return err
				})
				return out, err
			}),
		op(Operation{ID: "getPhotoTable", Method: "GET", Path: "/benches/{bench}/photos/table", Tag: "Photos", Summary: "All figures of all photos as a table", Scopes: readsRounds, Gives: []string{"text/csv"}},
			func(c *Call, p benchPath, _ None) (Raw, error) {
				b, err := a.bench(c, p.Bench, nil)
				if err != nil {
					return Raw{}, err
				}
				book, _, err := a.photoBook(c, b)
				if err != nil {
					return Raw{}, err
				}
				register, err := a.register()
				if err != nil {
					return Raw{}, err
				}
				var text bytes.Buffer
				err = book.WriteCSV(&text, register, a.o.Zone())
				return Raw{Type: "text/csv", Body: text.Bytes(), Name: p.Bench + ".photos.csv"}, err
			}),
		op(Operation{ID: "getLabels", Method: "GET", Path: "/benches/{bench}/labels.pdf", Tag: "Photos", Summary: "Labels of the plants of a bench, to print in exact millimetres", Scopes: reads, Gives: []string{"application/pdf"}},
			func(c *Call, p struct {
				benchPath
				labelParams
			}, _ None) (Raw, error) {
				b, err := a.bench(c, p.Bench, nil)
				if err != nil {
					return Raw{}, err
				}
				return labelsRaw(p.Bench, p.print(), photo.BenchLabels(p.Bench, b.Bench()))
			}),
		op(Operation{ID: "readLabel", Method: "POST", Path: "/benches/{bench}/labels/read", Tag: "Photos", Summary: "Which plant a photo of a label is of; nothing is kept", Scopes: enters, Body: photofile.MaxBytes, Takes: pictureKinds},
			func(c *Call, p benchPath, data []byte) (wire.LabelRead, error) {
				var codes []plantlabel.Code
				err := c.large(func() error {
					all, refused, err := photo.Identify(data)
					if err != nil {
						return unfit(err, "Send another picture.")
					}
					if refused != nil {
						return problem(http.StatusUnprocessableEntity, "no-label", refused.Text(), "")
					}
					codes = all
					return nil
				})
				if err != nil {
					return wire.LabelRead{}, err
				}
				return a.labelOf(c, p.Bench, codes...)
			}),
		op(Operation{ID: "findLabel", Method: "GET", Path: "/benches/{bench}/labels/plant", Tag: "Photos", Summary: "Which plant the code of a label stands for", Scopes: readsRounds},
			func(c *Call, p struct {
				benchPath
				Text string `query:"text" need:"yes" maxlen:"200" doc:"of its QR code, or the code as it is printed"`
			}, _ None) (wire.LabelRead, error) {
				_, code, err := plantlabel.ParsePayload(p.Text)
				if err != nil {
					if code, err = plantlabel.ParseCode(p.Text); err != nil {
						return wire.LabelRead{}, wrongField("#text", "is no code of a plant's label")
					}
				}
				return a.labelOf(c, p.Bench, code)
			}),
	}
}

func photoFault(err error) error {
	var f *photo.Fault
	switch {
	case !errors.As(err, &f):
		return err
	case f.Other:
		return problem(http.StatusConflict, "conflict", sentence(f), "Give the new one an id of its own.")
	}
	return unfit(f, "")
}

func (a *API) labelOf(c *Call, bench string, codes ...plantlabel.Code) (wire.LabelRead, error) {
	b, err := a.o.Benches.Get(bench)
	if err == nil && b == nil {
		err = missing("There is no bench of this name.", Prefix+"/benches lists them.")
	}
	if err != nil {
		return wire.LabelRead{}, err
	}
	register, err := a.register()
	if err != nil {
		return wire.LabelRead{}, err
	}
	plant, code, why := register.PlantOf(bench, codes...)
	if plant == "" {
		return wire.LabelRead{}, missing(sentence(errors.New(why)), "Print the labels of this bench, or ask of the other.")
	}
	return wire.LabelRead{Plant: plant, Code: string(code)}, nil
}

// smallSide is the longest side of the small pictures.
const smallSide = 480

func (a *API) picture(c *Call, bench, id string, small bool) (Raw, error) {
	p, data, err := a.o.Keep.Photo(c.Context(), id)
	if errors.Is(err, store.ErrNotFound) || err == nil && p.Bench != bench {
		return Raw{}, missing("There is no such photo of this bench.", "It may not have been sent yet.")
	}
	if err != nil {
		return Raw{}, err
	}
	out := Raw{Type: p.Media}
	err = c.large(func() (err error) {
		if small {
			if out.Body, err = photofile.Small(data, smallSide); err == nil {
				out.Type = "image/jpeg"
				return nil
			}
		}
		out.Body, err = photofile.Plain(data)
		return err
	})
	if err != nil && c.Context().Err() == nil {
		return Raw{}, problem(http.StatusUnprocessableEntity, "damaged", "The picture is damaged.", "underlamp rounds photos writes the original.")
	}
	return out, err
}

func cardOf(book *photo.Book, s *photo.Shot) wire.PhotoCard {
	out := wire.PhotoCard{ID: s.ID, Taken: s.Taken.UTC(), Named: s.Named, State: string(book.State(s.ID)), Says: book.Says(s.ID), Plants: []string{}}
	for _, l := range book.Of(s.ID) {
		if l.Refused == nil && l.Subject.Bench == book.Bench && l.Subject.Plant != "" {
			out.Plants = append(out.Plants, l.Subject.Plant)
		}
		if l.Brown != nil {
			out.Open += l.Brown.Open
		}
	}
	return out
}

func photoJSON(book *photo.Book, s *photo.Shot) wire.Photo {
	out := wire.Photo{PhotoCard: cardOf(book, s), Notes: []string{}, Looks: []wire.PhotoLook{}}
	if f := s.Finding; f != nil {
		out.Method, out.SHA256, out.Width, out.Height, out.Notes = f.Method, f.SHA256, f.Width, f.Height, append(out.Notes, f.Notes...)
	}
	for _, l := range book.Of(s.ID) {
		x := wire.PhotoLook{Code: l.Code.Readable(), Bench: l.Subject.Bench, Plant: l.Subject.Plant, Trial: l.Subject.Trial, Unit: l.Subject.Unit, Figures: []wire.PhotoFigure{}, NoMass: l.NoMass, Spots: []wire.PhotoSpot{}, Doubts: append([]string{}, l.Doubts...), Picture: l.Picture, TiltDeg: number0(l.Tilt), MMPerPixl: number0(l.MMPerPixel)}
		if l.Day >= 0 {
			x.Day = &l.Day
		}
		if l.Refused != nil {
			x.Refused = l.Refused.Text()
		}
		for _, f := range l.Read.Figures {
			x.Figures = append(x.Figures, wire.PhotoFigure{What: string(f.What), Name: photo.FigureName(f.What), Value: wire.Number(f.Value), SD: wire.Number(f.SD), Unit: f.What.Unit()})
		}
		if l.Mass != nil {
			x.Mass = &wire.PhotoMass{Grams: wire.Number(l.Mass.Grams), Low: wire.Number(l.Mass.Low), High: wire.Number(l.Mass.High)}
		}
		for i, p := range l.Spots {
			y := wire.PhotoSpot{ID: p.ID, Inner: p.Inner, Area: wire.Number(p.Area), X: wire.Number(p.X), Y: wire.Number(p.Y), Radius: wire.Number(p.Radius)}
			if l.Brown != nil {
				chance := wire.Number(l.Brown.Chances[i])
				y.Chance, y.Said = &chance, l.Brown.Said[i]
			}
			x.Spots = append(x.Spots, y)
		}
		out.Looks = append(out.Looks, x)
	}
	return out
}

// number0 is a number that is not known where it is 0.
func number0(v float64) wire.Number {
	if v == 0 {
		return wire.Number(math.NaN())
	}
	return wire.Number(v)
}
