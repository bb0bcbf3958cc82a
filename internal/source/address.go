package source

import (
	"slices"
	"strings"
)

// Address names a source in one line of text, so that it can be typed, copied
// and kept:
//
//	serial:/dev/ttyUSB0#baud=115200,unit=kPa
//	tcp://192.168.4.1:4000#reads=absolute
//	http://sensor.local/now?ch=2#path=vacuum,unit=mbar,every=100ms
//
// What stands before the first colon is the kind, what follows up to the
// number sign is the place, as the kind has it, and the rest are options, each
// key=value, with commas between. The fragment of a URL (RFC 3986, 3.5) never
// goes to a server, so that a place may be a URL with a query of its own. A
// comma, a backslash or a percent sign within a value is percent-encoded
// (RFC 3986, 2.1).
type Address struct {
	Kind    string
	Place   string
	Options map[string]string
}

// ParseAddress reads an address. It knows no kinds; that one has a key twice,
// no kind, or an option without "=" is a *Fault.
func ParseAddress(text string) (Address, error) {
	text = strings.Trim(text, " \t\r\n")
	rest, options, has := strings.Cut(text, "#")
	kind, place, ok := strings.Cut(rest, ":")
	a := Address{Kind: strings.ToLower(kind), Place: place, Options: map[string]string{}}
	if !ok || kind == "" || strings.ContainsAny(kind, "/\\. ") {
		return Address{}, &Fault{Source: rest, What: "does not begin with a kind of source", Hint: "as in serial:/dev/ttyUSB0 or tcp://192.168.4.1:4000"}
	}
	if !has || strings.TrimSpace(options) == "" {
		return a, nil
	}
	for part := range strings.SplitSeq(options, ",") {
		key, value, ok := strings.Cut(part, "=")
		key = strings.ToLower(strings.TrimSpace(key))
		if !ok || key == "" {
			return Address{}, &Fault{Source: kind + ":" + shownPlace(place), Key: strings.TrimSpace(part), What: "is no option", Hint: "options are key=value, with commas between"}
		}
		if _, twice := a.Options[key]; twice {
			return Address{}, &Fault{Source: kind + ":" + shownPlace(place), Key: key, What: "is said twice", Hint: "keep one"}
		}
		v, ok := decode(strings.Trim(value, " "))
		if !ok {
			return Address{}, &Fault{Source: kind + ":" + shownPlace(place), Key: key, What: "has a percent sign without two hexadecimal digits after it", Hint: "write %25 for the sign itself"}
		}
		a.Options[key] = v
	}
	return a, nil
}

// String writes the address, options in the order of their keys; [ParseAddress]
// reads it back.
func (a Address) String() string { return a.write(func(string) bool { return false }) }

// Shown writes the address for people, without the values of secret options
// and without a password that the place has as URLs have it.
func (a Address) Shown(k Kind) string {
	a.Place = shownPlace(a.Place)
	return a.write(func(key string) bool {
		return slices.ContainsFunc(k.Options, func(o Option) bool { return o.Key == key && o.Secret })
	})
}

// Bare returns kind and place for faults: no options, no password.
func (a Address) Bare() string {
	if a.Place == "" {
		return a.Kind
	}
	return a.Kind + ":" + shownPlace(a.Place)
}

func (a Address) write(secret func(key string) bool) string {
	keys := make([]string, 0, len(a.Options))
	for k := range a.Options {
		keys = append(keys, k)
	}
	slices.Sort(keys)
	var b strings.Builder
	b.WriteString(a.Kind + ":" + a.Place)
	for i, k := range keys {
		b.WriteString([]string{"#", ","}[min(i, 1)])
		v := encode(a.Options[k])
		if secret(k) && v != "" {
			v = "***"
		}
		b.WriteString(k + "=" + v)
	}
	return b.String()
}

// Unknown returns the first option of the address that a kind does not have, as
// a *Fault that names the nearest it has; nil where there is none.
func (a Address) Unknown(k Kind, nearest func(word string, known []string) string) error {
	var known []string
	for _, o := range k.Options {
		known = append(known, o.Key)
	}
	keys := make([]string, 0, len(a.Options))
	for key := range a.Options {
		keys = append(keys, key)
	}
	slices.Sort(keys)
	for _, key := range keys {
		if slices.Contains(known, key) {
			continue
		}
		hint := "known are " + strings.Join(known, ", ")
		if n := nearest(key, known); n != "" {
			hint = "did you mean " + n + "?"
		}
		return &Fault{Source: a.Bare(), Key: key, What: "is no option of this kind of source", Hint: hint}
	}
	return nil
}

// shownPlace takes the password out of //user:password@host.
func shownPlace(place string) string {
	rest, ok := strings.CutPrefix(place, "//")
	if !ok {
		return place
	}
	host, path := rest, ""
	if i := strings.IndexAny(rest, "/?"); i >= 0 {
		host, path = rest[:i], rest[i:]
	}
	i := strings.LastIndexByte(host, '@')
	user, _, has := strings.Cut(host[:max(i, 0)], ":")
	if !has {
		return place
	}
	return "//" + user + ":***" + host[i:] + path
}

const hex = "0123456789ABCDEF"

func encode(s string) string {
	var b strings.Builder
	for i := 0; i < len(s); i++ {
		if c := s[i]; c < 0x20 || c == ',' || c == '%' || c == '\\' || c == 0x7f {
			b.Write([]byte{'%', hex[c>>4], hex[c&15]})
		} else {
			b.WriteByte(c)
		}
	}
	// blanks at the ends would be trimmed
	out := b.String()
	if t := strings.TrimLeft(out, " "); t != out {
		out = strings.Repeat("%20", len(out)-len(t)) + t
	}
	if t := strings.TrimRight(out, " "); t != out {
		out = t + strings.Repeat("%20", len(out)-len(t))
	}
	return out
}

func decode(s string) (string, bool) {
	if !strings.Contains(s, "%") {
		return s, true
	}
	var b strings.Builder
	for i := 0; i < len(s); i++ {
		if s[i] != '%' {
			b.WriteByte(s[i])
			continue
		}
		if i+2 >= len(s) {
			return "", false
		}
		hi, lo := strings.IndexByte(hex, upper(s[i+1])), strings.IndexByte(hex, upper(s[i+2]))
		if hi < 0 || lo < 0 {
			return "", false
		}
		b.WriteByte(byte(hi<<4 | lo))
		i += 2
	}
	return b.String(), true
}

func upper(c byte) byte {
	if c >= 'a' && c <= 'f' {
		return c - 32
	}
	return c
}
