// Package localca makes a certificate authority of one's own, and certificates for the names
// and addresses of this machine in a home or farm network, so that phones which trust the
// authority reach the pages over TLS.
//
// The authority is one file that only its owner may read, with key and certificate. It is
// good for ten years. It can vouch for nothing but names and addresses that lie within such
// a network (RFC 5280, section 4.2.1.10, name constraints): whoever stole it could not pass
// for a bank. Certificates live in memory: one is made at each start and anew when two thirds
// of its life are over, so that a key of it is nowhere on the disk.
package localca

import (
	"bytes"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/sha256"
	"crypto/tls"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/hex"
	"encoding/pem"
	"errors"
	"fmt"
	"io/fs"
	"math/big"
	"net"
	"net/netip"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"sync"
	"time"
)

// Lives of certificates. Some phones take none of more than 825 days, also of an authority
// that their owner has entered.
const (
	authorityLife = 10 * 365 * 24 * time.Hour
	leafLife      = 180 * 24 * time.Hour
	renewBefore   = leafLife / 3
	backdated     = 24 * time.Hour // clocks of phones differ
)

// homeNames are the endings that no name of the internet has: RFC 6762 (local), RFC 6761
// (localhost), RFC 8375 (home.arpa), ICANN board resolution 2024.07.29.06 (internal); lan is
// common practice of routers.
var homeNames = []string{"local", "localhost", "home.arpa", "internal", "lan"}

// homeRanges are the addresses that are not of the internet as a whole: RFC 1918, RFC 3927,
// RFC 1122 (loopback), RFC 6598 (shared), RFC 5737 and RFC 2544 (documentation and tests),
// RFC 4193, RFC 4291.
var homeRanges = []netip.Prefix{
	netip.MustParsePrefix("10.0.0.0/8"), netip.MustParsePrefix("172.16.0.0/12"), netip.MustParsePrefix("192.168.0.0/16"),
	netip.MustParsePrefix("169.254.0.0/16"), netip.MustParsePrefix("127.0.0.0/8"), netip.MustParsePrefix("100.64.0.0/10"),
	netip.MustParsePrefix("192.0.2.0/24"), netip.MustParsePrefix("198.51.100.0/24"), netip.MustParsePrefix("203.0.113.0/24"), netip.MustParsePrefix("198.18.0.0/15"),
	netip.MustParsePrefix("fc00::/7"), netip.MustParsePrefix("fe80::/10"), netip.MustParsePrefix("::1/128"),
}

// AtHome says that an address is not of the internet as a whole.
func AtHome(a netip.Addr) bool {
	a = a.Unmap().WithZone("")
	return slices.ContainsFunc(homeRanges, func(p netip.Prefix) bool { return p.Contains(a) })
}

// An Authority makes certificates. It is safe for many goroutines.
type Authority struct {
	cert *x509.Certificate
	key  *ecdsa.PrivateKey
	now  func() time.Time

	mu   sync.Mutex
	leaf map[string]*tls.Certificate // by the name or address that it is for
}

// fileName is the file of the authority in its folder.
const fileName = "authority.pem"

// Open reads the authority of a folder, or makes one that may vouch for names beside those
// of [AtHome]. Of two that make one at once both get the same.
func Open(dir string, names []string, now func() time.Time) (*Authority, error) {
	if now == nil {
		now = time.Now
	}
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return nil, fmt.Errorf("the folder of the certificate authority cannot be made: %w", err)
	}
	path := filepath.Join(dir, fileName)
	text, err := readOwn(path)
	if errors.Is(err, fs.ErrNotExist) {
		made, merr := create(names, now())
		if merr != nil {
			return nil, merr
		}
		if err := writeNew(path, made); err != nil {
			return nil, fmt.Errorf("the certificate authority cannot be kept: %w", err)
		}
		text, err = readOwn(path)
	}
	if err != nil {
		return nil, err
	}
	a, err := parse(text, now())
	if err != nil {
		return nil, fmt.Errorf("%s: %w", path, err)
	}
	a.now = now
	return a, nil
}

// readOwn reads a file that nobody else may read.
func readOwn(path string) ([]byte, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	info, err := f.Stat()
	if err != nil {
		return nil, err
	}
	if runtime.GOOS != "windows" && info.Mode().Perm()&0o077 != 0 {
		return nil, fmt.Errorf("%s holds a key and others may read it (mode %04o): take it for known, remove the file, and trust the new authority on each phone", path, info.Mode().Perm())
	}
	if info.Size() > 1<<16 {
		return nil, fmt.Errorf("%s is too large for a key and a certificate", path)
	}
	var b bytes.Buffer
	_, err = b.ReadFrom(f)
	return b.Bytes(), err
}

// writeNew makes a file whole, unless it is there.
func writeNew(path string, text []byte) error {
	part, err := os.CreateTemp(filepath.Dir(path), ".authority-*") // mode 0600
	if err != nil {
		return err
	}
	defer os.Remove(part.Name())
	_, err = part.Write(text)
	if err = errors.Join(err, part.Sync(), part.Close()); err != nil {
		return err
	}
	if err := os.Link(part.Name(), path); err != nil && !errors.Is(err, fs.ErrExist) {
		if _, there := os.Stat(path); there == nil {
			return nil
		}
		return os.Rename(part.Name(), path) // a file system without links
	}
	return nil
}

func serial() *big.Int {
	n, err := rand.Int(rand.Reader, new(big.Int).Lsh(big.NewInt(1), 127))
	if err != nil {
		panic("localca: " + err.Error()) // crypto/rand does not fail
	}
	return n.Add(n, big.NewInt(1))
}

func create(names []string, now time.Time) ([]byte, error) {
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		return nil, err
	}
	domains := slices.Clone(homeNames)
	for _, n := range names {
		if n = strings.ToLower(n); n != "" && net.ParseIP(n) == nil {
			domains = append(domains, n)
		}
	}
	slices.Sort(domains)
	var ranges []*net.IPNet
	for _, p := range homeRanges {
		ranges = append(ranges, &net.IPNet{IP: p.Addr().AsSlice(), Mask: net.CIDRMask(p.Bits(), p.Addr().BitLen())})
	}
	number := serial()
	ca := &x509.Certificate{
		SerialNumber: number,
		// A phone lists it by this name; the number tells two machines apart.
		Subject:               pkix.Name{CommonName: "underlamp at home " + hex.EncodeToString(number.Bytes()[:3]), Organization: []string{"underlamp, made on this machine"}},
		NotBefore:             now.Add(-backdated),
		NotAfter:              now.Add(authorityLife),
		KeyUsage:              x509.KeyUsageCertSign | x509.KeyUsageCRLSign,
		ExtKeyUsage:           []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth},
		BasicConstraintsValid: true, IsCA: true, MaxPathLenZero: true,
		PermittedDNSDomainsCritical: true, PermittedDNSDomains: slices.Compact(domains), PermittedIPRanges: ranges,
	}
	der, err := x509.CreateCertificate(rand.Reader, ca, ca, key.Public(), key)
	if err != nil {
		return nil, err
	}
	private, err := x509.MarshalPKCS8PrivateKey(key)
	if err != nil {
		return nil, err
	}
	var out bytes.Buffer
	pem.Encode(&out, &pem.Block{Type: "PRIVATE KEY", Bytes: private})
	pem.Encode(&out, &pem.Block{Type: "CERTIFICATE", Bytes: der})
	return out.Bytes(), nil
}

// parse reads key and certificate, in any order.
func parse(text []byte, now time.Time) (*Authority, error) {
	a := &Authority{leaf: map[string]*tls.Certificate{}}
	for {
		var block *pem.Block
		if block, text = pem.Decode(text); block == nil {
			break
		}
		switch block.Type {
		case "PRIVATE KEY":
			key, err := x509.ParsePKCS8PrivateKey(block.Bytes)
			if err != nil {
				return nil, fmt.Errorf("the key cannot be read: %w", err)
			}
			own, ok := key.(*ecdsa.PrivateKey)
			if !ok {
				return nil, errors.New("the key is of another kind than underlamp makes")
			}
			a.key = own
		case "CERTIFICATE":
			cert, err := x509.ParseCertificate(block.Bytes)
			if err != nil {
				return nil, fmt.Errorf("the certificate cannot be read: %w", err)
			}
			a.cert = cert
		}
	}
	const mend = "; put the file back from a copy, or remove it and trust the new authority on each phone"
	switch {
	case a.key == nil || a.cert == nil:
		return nil, errors.New("a key and a certificate are expected" + mend)
	case !a.key.PublicKey.Equal(a.cert.PublicKey):
		return nil, errors.New("key and certificate do not belong together" + mend)
	case !a.cert.IsCA:
		return nil, errors.New("the certificate is not that of an authority" + mend)
	case now.After(a.cert.NotAfter):
		return nil, fmt.Errorf("the authority ended on %s; remove the file and trust the new authority on each phone", a.cert.NotAfter.Format(time.DateOnly))
	}
	return a, nil
}

// DER is the certificate of the authority, as phones take it.
func (a *Authority) DER() []byte { return bytes.Clone(a.cert.Raw) }

// Name is what phones list it as.
func (a *Authority) Name() string { return a.cert.Subject.CommonName }

// Ends is when it ends.
func (a *Authority) Ends() time.Time { return a.cert.NotAfter }

// Fingerprint is the SHA-256 of the certificate, in pairs, as phones show it.
func (a *Authority) Fingerprint() string {
	sum := sha256.Sum256(a.cert.Raw)
	var out []string
	for _, b := range sum {
		out = append(out, fmt.Sprintf("%02X", b))
	}
	return strings.Join(out, " ")
}

// May says whether it can vouch for a name or an address.
func (a *Authority) May(name string) bool {
	leaf, err := a.make(name)
	if err != nil {
		return false
	}
	roots := x509.NewCertPool()
	roots.AddCert(a.cert)
	_, err = leaf.Leaf.Verify(x509.VerifyOptions{Roots: roots, DNSName: verifyName(name), CurrentTime: a.now()})
	return err == nil
}

// verifyName is a name as the verifier of certificates takes it.
func verifyName(name string) string {
	if ip := net.ParseIP(name); ip != nil {
		return "[" + name + "]"
	}
	return name
}

// Config is how a server with these names answers over TLS. A client that names another one
// is given no certificate; one that names none gets that of the address it came to.
func (a *Authority) Config(names []string) *tls.Config {
	return &tls.Config{MinVersion: tls.VersionTLS12, NextProtos: []string{"h2", "http/1.1"}, GetCertificate: func(hello *tls.ClientHelloInfo) (*tls.Certificate, error) {
		name := strings.ToLower(strings.TrimSuffix(hello.ServerName, "."))
		if name == "" { // an address is not named in a greeting (RFC 6066, section 3)
			host, _, err := net.SplitHostPort(hello.Conn.LocalAddr().String())
			if err != nil {
				return nil, err
			}
			at, err := netip.ParseAddr(host)
			if err != nil {
				return nil, err
			}
			name = at.Unmap().WithZone("").String()
		} else if !slices.Contains(names, name) {
			return nil, fmt.Errorf("this server is not called %q", name)
		}
		return a.certificate(name)
	}}
}

// certificate is that of a name or address, made anew where it is time.
func (a *Authority) certificate(name string) (*tls.Certificate, error) {
	a.mu.Lock()
	defer a.mu.Unlock()
	if c := a.leaf[name]; c != nil && a.now().Before(c.Leaf.NotAfter.Add(-renewBefore)) && a.now().After(c.Leaf.NotBefore) {
		return c, nil
	}
	c, err := a.make(name)
	if err == nil {
		a.leaf[name] = c
	}
	return c, err
}

func (a *Authority) make(name string) (*tls.Certificate, error) {
	now := a.now()
	if now.After(a.cert.NotAfter) {
		return nil, fmt.Errorf("the certificate authority ended on %s", a.cert.NotAfter.Format(time.DateOnly))
	}
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		return nil, err
	}
	ends := now.Add(leafLife)
	if ends.After(a.cert.NotAfter) {
		ends = a.cert.NotAfter
	}
	leaf := &x509.Certificate{
		SerialNumber: serial(), Subject: pkix.Name{CommonName: name}, NotBefore: now.Add(-backdated), NotAfter: ends,
		KeyUsage: x509.KeyUsageDigitalSignature, ExtKeyUsage: []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth}, BasicConstraintsValid: true,
	}
	if ip := net.ParseIP(name); ip != nil {
		leaf.IPAddresses = []net.IP{ip}
	} else {
		leaf.DNSNames = []string{name}
	}
	der, err := x509.CreateCertificate(rand.Reader, leaf, a.cert, key.Public(), a.key)
	if err != nil {
		return nil, err
	}
	parsed, err := x509.ParseCertificate(der)
	if err != nil {
		return nil, err
	}
	return &tls.Certificate{Certificate: [][]byte{der, a.cert.Raw}, PrivateKey: key, Leaf: parsed}, nil
}
