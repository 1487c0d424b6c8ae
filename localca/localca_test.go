package localca_test

import (
	"bytes"
	"context"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"encoding/pem"
	"io"
	"log"
	"math/big"
	"net"
	"net/http"
	"net/netip"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"
	"sync"
	"testing"
	"time"

	"underlamp/localca"
)

func open(t testing.TB, dir string, now func() time.Time, names ...string) *localca.Authority {
	t.Helper()
	a, err := localca.Open(dir, names, now)
	if err != nil {
		t.Fatal(err)
	}
	return a
}

func pool(t testing.TB, a *localca.Authority) *x509.CertPool {
	t.Helper()
	c, err := x509.ParseCertificate(a.DER())
	if err != nil {
		t.Fatal(err)
	}
	p := x509.NewCertPool()
	p.AddCert(c)
	return p
}

// A client that trusts the authority reaches a server by its name and by its address; one
// that does not is stopped, and so is one that asks for another name.
func TestServer(t *testing.T) {
	a := open(t, t.TempDir(), nil, "growing-room")
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	server := &http.Server{TLSConfig: a.Config([]string{"growing-room", "growing-room.local"}), ErrorLog: log.New(io.Discard, "", 0),
		Handler: http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) { io.WriteString(w, r.Proto) })}
	go server.ServeTLS(l, "", "")
	defer server.Close()
	address := l.Addr().String()
	ask := func(roots *x509.CertPool, host string) (string, error) {
		tr := &http.Transport{TLSClientConfig: &tls.Config{RootCAs: roots}, ForceAttemptHTTP2: true}
		defer tr.CloseIdleConnections()
		tr.DialContext = func(ctx context.Context, network, _ string) (net.Conn, error) {
			return (&net.Dialer{}).DialContext(ctx, network, address)
		}
		_, port, _ := net.SplitHostPort(address)
		res, err := (&http.Client{Transport: tr}).Get("https://" + net.JoinHostPort(host, port) + "/")
		if err != nil {
			return "", err
		}
		defer res.Body.Close()
		b, err := io.ReadAll(res.Body)
		return string(b), err
	}
	for _, host := range []string{"127.0.0.1", "growing-room", "Growing-Room.local"} {
		if got, err := ask(pool(t, a), host); err != nil || got != "HTTP/2.0" {
			t.Errorf("%s: %q, %v", host, got, err)
		}
	}
	if _, err := ask(pool(t, a), "elsewhere.local"); err == nil {
		t.Error("another name was answered")
	}
	if _, err := ask(x509.NewCertPool(), "127.0.0.1"); err == nil {
		t.Error("a client that does not trust it went on")
	}
}

// The authority stays as it was made, its file is for its owner alone, and of many that make
// one at once all get the same.
func TestKept(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "certificates")
	prints := make([]string, 8)
	var all sync.WaitGroup
	for i := range prints {
		all.Go(func() {
			a, err := localca.Open(dir, nil, nil)
			if err != nil {
				t.Error(err)
				return
			}
			prints[i] = a.Fingerprint()
		})
	}
	all.Wait()
	for _, p := range prints {
		if p != prints[0] || len(p) != 32*3-1 {
			t.Fatalf("fingerprints %q and %q", p, prints[0])
		}
	}
	path := filepath.Join(dir, "authority.pem")
	files, err := os.ReadDir(dir)
	if err != nil || len(files) != 1 {
		t.Errorf("%v, %v", files, err)
	}
	if runtime.GOOS == "windows" {
		return
	}
	if info, err := os.Stat(path); err != nil || info.Mode().Perm() != 0o600 {
		t.Errorf("%v, %v", info.Mode(), err)
	}
	if err := os.Chmod(path, 0o640); err != nil {
		t.Fatal(err)
	}
	if _, err := localca.Open(dir, nil, nil); err == nil || !strings.Contains(err.Error(), "others may read it") {
		t.Errorf("a key that others may read: %v", err)
	}
}

// A certificate is made anew when two thirds of its life are over, and never outlives the
// authority.
func TestRenewed(t *testing.T) {
	now := time.Date(2026, 3, 1, 0, 0, 0, 0, time.UTC)
	a := open(t, t.TempDir(), func() time.Time { return now })
	config := a.Config([]string{"localhost"})
	get := func() *x509.Certificate {
		t.Helper()
		c, err := config.GetCertificate(&tls.ClientHelloInfo{ServerName: "localhost"})
		if err != nil {
			t.Fatal(err)
		}
		if _, err := c.Leaf.Verify(x509.VerifyOptions{Roots: pool(t, a), DNSName: "localhost", CurrentTime: now}); err != nil {
			t.Fatal(err)
		}
		return c.Leaf
	}
	first := get()
	if life := first.NotAfter.Sub(first.NotBefore); life > 825*24*time.Hour {
		t.Errorf("good for %v; some phones refuse it", life)
	}
	now = now.AddDate(0, 0, 119)
	if !get().Equal(first) {
		t.Error("made anew after 119 days")
	}
	now = now.AddDate(0, 0, 2)
	if get().Equal(first) {
		t.Error("not made anew after 121 days")
	}
	now = a.Ends().AddDate(0, 0, -3)
	if last := get(); !last.NotAfter.Equal(a.Ends()) {
		t.Errorf("ends %v, the authority %v", last.NotAfter, a.Ends())
	}
	now = a.Ends().AddDate(0, 0, 1)
	if _, err := config.GetCertificate(&tls.ClientHelloInfo{ServerName: "localhost"}); err == nil {
		t.Error("an authority that has ended vouched")
	}
}

// The authority can vouch for nothing outside such a network, whatever its key is used for.
func TestConstrained(t *testing.T) {
	dir := t.TempDir()
	a := open(t, dir, nil, "cellar", "rack.example.org")
	for name, want := range map[string]bool{
		"cellar": true, "cellar.local": true, "localhost": true, "rack.example.org": true, "x.home.arpa": true,
		"192.168.1.10": true, "10.1.2.3": true, "172.31.0.1": true, "127.0.0.1": true, "fd12::1": true, "fe80::1": true,
		"example.org": false, "bank.example.com": false, "172.32.0.1": false, "8.8.8.8": false, "2001:db8::1": false, "com": false,
	} {
		if got := a.May(name); got != want {
			t.Errorf("vouches for %s: %v, want %v", name, got, want)
		}
	}
	// A thief of the key makes a certificate by hand.
	text, err := os.ReadFile(filepath.Join(dir, "authority.pem"))
	if err != nil {
		t.Fatal(err)
	}
	block, rest := pem.Decode(text)
	key, err := x509.ParsePKCS8PrivateKey(block.Bytes)
	if err != nil {
		t.Fatal(err)
	}
	block, _ = pem.Decode(rest)
	ca, err := x509.ParseCertificate(block.Bytes)
	if err != nil {
		t.Fatal(err)
	}
	own, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	forge := func(x *x509.Certificate, name string) error {
		x.SerialNumber, x.NotBefore, x.NotAfter = big.NewInt(7), time.Now().Add(-time.Hour), time.Now().Add(time.Hour)
		der, err := x509.CreateCertificate(rand.Reader, x, ca, own.Public(), key)
		if err != nil {
			t.Fatal(err)
		}
		leaf, err := x509.ParseCertificate(der)
		if err != nil {
			t.Fatal(err)
		}
		_, err = leaf.Verify(x509.VerifyOptions{Roots: pool(t, a), DNSName: name})
		return err
	}
	if forge(&x509.Certificate{DNSNames: []string{"bank.example.com"}}, "bank.example.com") == nil || forge(&x509.Certificate{DNSNames: []string{"cellar.local", "bank.example.com"}}, "bank.example.com") == nil {
		t.Error("a bank was forged")
	}
	if !ca.PermittedDNSDomainsCritical || !ca.MaxPathLenZero || ca.KeyUsage&x509.KeyUsageCertSign == 0 {
		t.Error("the authority may do too much, or too little")
	}
}

// What another program makes of the authority: OpenSSL holds the chain and its constraints,
// independent of the library that made them.
func TestOpenSSL(t *testing.T) {
	openssl, err := exec.LookPath("openssl")
	if err != nil {
		if os.Getenv("CI") != "" {
			t.Fatal("openssl is missing; in CI nothing is skipped")
		}
		t.Skip("openssl is not installed, so the chain was not held by another program")
	}
	dir := t.TempDir()
	a := open(t, dir, nil, "cellar")
	write := func(name string, der []byte) string {
		var b bytes.Buffer
		pem.Encode(&b, &pem.Block{Type: "CERTIFICATE", Bytes: der})
		path := filepath.Join(dir, name)
		if err := os.WriteFile(path, b.Bytes(), 0o600); err != nil {
			t.Fatal(err)
		}
		return path
	}
	ca := write("ca.crt", a.DER())
	config := a.Config([]string{"cellar.local", "bank.example.com"})
	for name, want := range map[string]bool{"cellar.local": true, "bank.example.com": false} {
		c, err := config.GetCertificate(&tls.ClientHelloInfo{ServerName: name})
		if err != nil {
			t.Fatal(err)
		}
		out, err := exec.Command(openssl, "verify", "-x509_strict", "-CAfile", ca, "-verify_hostname", name, write("leaf.crt", c.Certificate[0])).CombinedOutput()
		if (err == nil) != want || !want && !strings.Contains(string(out), "permitted subtree violation") {
			t.Errorf("%s: %v\n%s", name, err, out)
		}
	}
	out, err := exec.Command(openssl, "x509", "-in", ca, "-noout", "-fingerprint", "-sha256").Output()
	if err != nil || !strings.Contains(strings.ReplaceAll(string(out), ":", " "), a.Fingerprint()) {
		t.Errorf("%s, %v; ours is %s", out, err, a.Fingerprint())
	}
}

// A file that is cut, mixed up or foreign is refused with what to do.
func TestDamaged(t *testing.T) {
	dir := t.TempDir()
	open(t, dir, nil)
	path := filepath.Join(dir, "authority.pem")
	whole, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	other := t.TempDir()
	open(t, other, nil)
	foreign, err := os.ReadFile(filepath.Join(other, "authority.pem"))
	if err != nil {
		t.Fatal(err)
	}
	half := bytes.Index(whole, []byte("-----BEGIN CERTIFICATE"))
	for name, text := range map[string][]byte{
		"empty": {}, "no certificate": whole[:half], "no key": whole[half:], "cut": whole[:len(whole)-40],
		"mixed": append(bytes.Clone(whole[:half]), foreign[bytes.Index(foreign, []byte("-----BEGIN CERTIFICATE")):]...), "large": make([]byte, 1<<17),
	} {
		if err := os.WriteFile(path, text, 0o600); err != nil {
			t.Fatal(err)
		}
		if _, err := localca.Open(dir, nil, nil); err == nil || !strings.Contains(err.Error(), path) {
			t.Errorf("%s: %v", name, err)
		}
	}
}

func TestAtHome(t *testing.T) {
	for text, want := range map[string]bool{"192.168.0.1": true, "::ffff:10.0.0.1": true, "fe80::1%eth0": true, "8.8.8.8": false, "2606:4700::1": false, "172.15.0.1": false, "0.0.0.0": false} {
		if got := localca.AtHome(netip.MustParseAddr(text)); got != want {
			t.Errorf("%s: %v", text, got)
		}
	}
}
