package mqttlink

import (
	"crypto/tls"
	"crypto/x509"
	"errors"
	"fmt"
	"net"
	"net/url"
	"os"
	"strings"
)

// An Address is where a broker is.
type Address struct {
	Host string // with port
	TLS  bool
}

// ParseAddress reads mqtt://host, mqtt://host:1883, mqtts://host or mqtts://host:8883.
func ParseAddress(text string) (Address, error) {
	const want = "write mqtt://host:1883, or mqtts://host:8883 for TLS"
	u, err := url.Parse(text)
	if err != nil { // not shown: a password may be in it
		return Address{}, errors.New("the address of the broker cannot be read; " + want)
	}
	if u.User != nil {
		return Address{}, errors.New("user and password do not belong into the address of the broker, which gets into logs; set UNDERLAMP_MQTT_USER and UNDERLAMP_MQTT_PASSWORD_FILE")
	}
	a := Address{TLS: u.Scheme == "mqtts"}
	port := u.Port()
	switch {
	case u.Scheme != "mqtt" && u.Scheme != "mqtts", u.Hostname() == "", strings.Trim(u.Path, "/") != "", u.RawQuery != "", u.Fragment != "":
		return Address{}, fmt.Errorf("%q is no address of a broker; %s", text, want)
	case port == "" && a.TLS:
		port = "8883"
	case port == "":
		port = "1883"
	}
	a.Host = net.JoinHostPort(u.Hostname(), port)
	return a, nil
}

// String is the address as it is written.
func (a Address) String() string {
	if a.TLS {
		return "mqtts://" + a.Host
	}
	return "mqtt://" + a.Host
}

// Credentials are user and password for a broker as the environment has them:
// UNDERLAMP_MQTT_USER, and UNDERLAMP_MQTT_PASSWORD or, better, UNDERLAMP_MQTT_PASSWORD_FILE,
// a file with the password in its first line. All may be missing.
func Credentials(getenv func(string) string) (user, password string, err error) {
	user, password = getenv("UNDERLAMP_MQTT_USER"), getenv("UNDERLAMP_MQTT_PASSWORD")
	file := getenv("UNDERLAMP_MQTT_PASSWORD_FILE")
	if file == "" {
		return user, password, nil
	}
	if password != "" {
		return "", "", errors.New("both UNDERLAMP_MQTT_PASSWORD and UNDERLAMP_MQTT_PASSWORD_FILE are set; set one of them")
	}
	text, err := os.ReadFile(file)
	if err != nil {
		return "", "", fmt.Errorf("the password for the broker cannot be read: %w", err)
	}
	password, _, _ = strings.Cut(string(text), "\n")
	return user, strings.TrimSuffix(password, "\r"), nil
}

// secure is how TLS is spoken with the broker; roots of a private authority are in a file.
func secure(host, caFile string) (*tls.Config, error) {
	name, _, err := net.SplitHostPort(host)
	if err != nil {
		return nil, err
	}
	c := &tls.Config{ServerName: name, MinVersion: tls.VersionTLS12}
	if caFile == "" {
		return c, nil
	}
	pem, err := os.ReadFile(caFile)
	if err != nil {
		return nil, fmt.Errorf("the certificates of the broker's authority cannot be read: %w", err)
	}
	c.RootCAs = x509.NewCertPool()
	if !c.RootCAs.AppendCertsFromPEM(pem) {
		return nil, errors.New("the file of the broker's authority holds no certificate in PEM")
	}
	return c, nil
}
