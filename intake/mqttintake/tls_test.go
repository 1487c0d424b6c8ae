package mqttintake_test

import (
	"context"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/x509"
	"encoding/pem"
	"math/big"
	"net"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"underlamp/mqtt/mqttbroker"
	"underlamp/mqtt/mqttlink"
)

// certificate writes a certificate of this machine and its key.
func certificate(t *testing.T) (certFile, keyFile string) {
	t.Helper()
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	c := &x509.Certificate{
		SerialNumber: big.NewInt(1), NotBefore: time.Now().Add(-time.Hour), NotAfter: time.Now().Add(time.Hour),
		IPAddresses: []net.IP{net.IPv4(127, 0, 0, 1)}, IsCA: true, BasicConstraintsValid: true, KeyUsage: x509.KeyUsageCertSign | x509.KeyUsageDigitalSignature,
	}
	der, err := x509.CreateCertificate(rand.Reader, c, c, key.Public(), key)
	if err != nil {
		t.Fatal(err)
	}
	secret, err := x509.MarshalPKCS8PrivateKey(key)
	if err != nil {
		t.Fatal(err)
	}
	write := func(name, kind string, der []byte) string {
		path := filepath.Join(t.TempDir(), name)
		if err := os.WriteFile(path, pem.EncodeToMemory(&pem.Block{Type: kind, Bytes: der}), 0o600); err != nil {
			t.Fatal(err)
		}
		return path
	}
	return write("cert.pem", "CERTIFICATE", der), write("key.pem", "PRIVATE KEY", secret)
}

// Over TLS a link of ours is a device of our broker.
func TestTLS(t *testing.T) {
	cert, key := certificate(t)
	r := newRoom(t, mqttbroker.Options{CertFile: cert, KeyFile: key})
	token := r.device(t, "rack")
	if _, err := connect4(r.broker.Address(), "a", "rack", token); err == nil {
		t.Error("let in without TLS")
	}
	open := func(ca string) *mqttlink.Link {
		a, err := mqttlink.ParseAddress("mqtts://" + r.broker.Address())
		if err != nil {
			t.Fatal(err)
		}
		l, err := mqttlink.Open(mqttlink.Options{Address: a, User: "rack", Password: token, CAFile: ca, Retry: 10 * time.Millisecond})
		if err != nil {
			t.Fatal(err)
		}
		t.Cleanup(l.Close)
		return l
	}
	good, bad := open(cert), open("")
	until(t, "the link", good.Connected)
	if err := good.Publish(context.Background(), "rack/air", []byte("21"), false); err != nil {
		t.Fatal(err)
	}
	if len(samples(t, r.store, "rack/air")) != 1 {
		t.Error("not kept")
	}
	if bad.Connected() {
		t.Error("a certificate that nobody vouches for was trusted")
	}
}

// What cannot be started says so.
func TestCannotStart(t *testing.T) {
	cert, key := certificate(t)
	r := newRoom(t, mqttbroker.Options{})
	for says, o := range map[string]mqttbroker.Options{
		"needs its key":    {CertFile: cert},
		"cannot be used":   {CertFile: key, KeyFile: key},
		"cannot listen on": {Listen: r.broker.Address()},
	} {
		b, err := mqttbroker.Start(o, r.store, r.receiver.Receive)
		if err == nil || !strings.Contains(err.Error(), says) {
			t.Errorf("%v, want %q", err, says)
		}
		if b != nil {
			b.Close()
		}
	}
}
