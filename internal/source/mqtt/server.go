package mqtt

import (
	"cmp"
	"context"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"encoding/hex"
	"errors"
	"net"
	"net/url"
	"os"
	"slices"
	"strings"
	"time"

	"seatproof/internal/source"
)

// Version is a version of the protocol.
type Version string

// The versions there are. Either tries 5 first.
const (
	Either Version = "auto"
	V5     Version = "5"
	V311   Version = "3.1.1"
)

// Server is a broker and how to log in to it.
type Server struct {
	Host    string // host:port
	Shown   string // its address without what is secret
	Version Version
	Client  string // its name for this connection
	User    string
	Will    *Will // nil none

	password     string
	passwordFile string
	passwordEnv  string
	secure       bool
	ca           string // file
	name         string // the certificate is for
}

// Will is a message that the broker publishes for us when the connection breaks
// off without a farewell.
type Will struct {
	Topic   string
	Payload []byte
}

// login are the user and password as they are now.
type login struct{ user, password string }

// ServerOptions are the options that [ServerOf] reads.
func ServerOptions() []source.Option {
	return []source.Option{
		{Key: "user", Words: "user at the broker", Hint: "as in user=bench"},
		{Key: "password", Words: "password at the broker", Hint: "better kept in a file: password_file", Secret: true},
		{Key: "password_file", Words: "file that holds the password", Hint: "its first line, as in password_file=/etc/seatproof/broker"},
		{Key: "password_env", Words: "variable of the environment that holds the password", Hint: "as in password_env=BROKER_PASSWORD"},
		{Key: "ca", Words: "file of the authority that signed the broker's certificate", Hint: "PEM; left out: the authorities that this machine trusts"},
		{Key: "server_name", Words: "name the broker's certificate is for", Hint: "where it is not the host's"},
		{Key: "version", Words: "version of MQTT", Hint: "auto tries 5 and then 3.1.1", Default: string(Either), Choice: []string{string(Either), string(V5), string(V311)}},
		{Key: "client", Words: "name of this program at the broker", Hint: "left out: a new one each time; two connections of one name throw each other out"},
	}
}

// ServerOf reads the broker of an address, mqtt or mqtts, and the topic that
// its path is; "" none. The error is a *source.Fault.
func ServerOf(a source.Address, secure bool) (s Server, topic string, err error) {
	fault := func(key, what, hint string, cause error) (Server, string, error) {
		return Server{}, "", &source.Fault{Source: a.Bare(), Key: key, What: what, Hint: hint, Err: cause}
	}
	u, err := url.Parse("mqtt:" + a.Place)
	if err != nil || u.Hostname() == "" || u.RawQuery != "" {
		return fault("", "has no host", "as in mqtt://192.168.4.2:1883/bench/vacuum", nil) // the cause would repeat a password
	}
	port := "1883"
	if secure {
		port = "8883"
	}
	s = Server{
		Host: net.JoinHostPort(u.Hostname(), cmp.Or(u.Port(), port)), Shown: a.Bare(), Version: Either,
		Client: a.Options["client"], User: a.Options["user"], password: a.Options["password"],
		passwordFile: a.Options["password_file"], passwordEnv: a.Options["password_env"],
		secure: secure, ca: a.Options["ca"], name: cmp.Or(a.Options["server_name"], u.Hostname()),
	}
	if u.User != nil {
		if s.User != "" {
			return fault("user", "is said twice", "keep the one before the host or this one", nil)
		}
		s.User = u.User.Username()
		if p, ok := u.User.Password(); ok {
			if s.password != "" {
				return fault("password", "is said twice", "keep one", nil)
			}
			s.password = p
		}
	}
	given := 0
	for _, x := range []string{s.password, s.passwordFile, s.passwordEnv} {
		if x != "" {
			given++
		}
	}
	if given > 1 {
		return fault("password", "is given in more than one way", "keep one of password, password_file, password_env", nil)
	}
	if given == 1 && s.User == "" {
		return fault("user", "is not said, though a password is", "as in user=bench", nil)
	}
	if !secure && (s.ca != "" || a.Options["server_name"] != "") {
		return fault("ca", "is of no use without TLS", "write mqtts: for mqtt:", nil)
	}
	if v, ok := a.Options["version"]; ok {
		s.Version = Version(v)
		if !slices.Contains([]Version{Either, V5, V311}, s.Version) {
			return fault("version", "is none of auto, 5, 3.1.1", "leave it out", nil)
		}
	}
	if s.Client == "" {
		var b [4]byte
		_, _ = rand.Read(b[:]) // it never fails, by its documentation
		s.Client = "seatproof-" + hex.EncodeToString(b[:])
	}
	return s, strings.TrimPrefix(u.Path, "/"), nil
}

// login reads the password from where it is kept.
func (s Server) login() (login, error) {
	l := login{s.User, s.password}
	fault := func(key, what, hint string, err error) (login, error) {
		return login{}, &source.Fault{Source: s.Shown, Key: key, What: what, Hint: hint, Err: err}
	}
	switch {
	case s.passwordFile != "":
		b, err := os.ReadFile(s.passwordFile)
		if err != nil {
			return fault("password_file", "can't be read", "", err)
		}
		l.password, _, _ = strings.Cut(strings.ReplaceAll(string(b), "\r", ""), "\n")
		if l.password == "" {
			return fault("password_file", "has an empty first line", "write the password there", nil)
		}
	case s.passwordEnv != "":
		if l.password = os.Getenv(s.passwordEnv); l.password == "" {
			return fault("password_env", "names a variable that is not set", "set it before the program starts", nil)
		}
	}
	return l, nil
}

// dial opens the network connection.
func (s Server) dial(ctx context.Context) (net.Conn, error) {
	d := net.Dialer{Timeout: slow}
	if !s.secure {
		return d.DialContext(ctx, "tcp", s.Host)
	}
	config := &tls.Config{ServerName: s.name, MinVersion: tls.VersionTLS12}
	if s.ca != "" {
		pem, err := os.ReadFile(s.ca)
		if err != nil {
			return nil, &source.Fault{Source: s.Shown, Key: "ca", What: "can't be read", Err: err}
		}
		config.RootCAs = x509.NewCertPool()
		if !config.RootCAs.AppendCertsFromPEM(pem) {
			return nil, &source.Fault{Source: s.Shown, Key: "ca", What: "holds no certificate", Hint: "it must be a PEM file"}
		}
	}
	return (&tls.Dialer{NetDialer: &d, Config: config}).DialContext(ctx, "tcp", s.Host)
}

// slow is how long a broker may take for one step.
const slow = 5 * time.Second

// ErrRefused says that the broker does not let us in: no waiting mends that.
var ErrRefused = errors.New("the broker refuses user or password")

// untrusted says whether a failed connection failed for its certificate.
func untrusted(err error) bool {
	var e *tls.CertificateVerificationError
	return errors.As(err, &e)
}
