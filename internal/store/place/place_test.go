package place

import "testing"

func TestData(t *testing.T) {
	for _, c := range []struct {
		what, system string
		env          map[string]string
		want         string // "" for an error
	}{
		{"XDG's own default", "linux", map[string]string{"HOME": "/h/m"}, "/h/m/.local/share/seatproof"},
		{"XDG set", "linux", map[string]string{"HOME": "/h/m", "XDG_DATA_HOME": "/data/"}, "/data/seatproof"},
		{"XDG relative", "freebsd", map[string]string{"HOME": "/h/m", "XDG_DATA_HOME": "data"}, "/h/m/.local/share/seatproof"},
		{"XDG without a home", "linux", map[string]string{"XDG_DATA_HOME": "/data"}, "/data/seatproof"},
		{"nothing", "linux", nil, ""},
		{"macOS", "darwin", map[string]string{"HOME": "/Users/m", "XDG_DATA_HOME": "/data"}, "/Users/m/Library/Application Support/seatproof"},
		{"macOS, nothing", "darwin", nil, ""},
		{"Windows", "windows", map[string]string{"LocalAppData": `C:\U\m\AppData\Local`, "HOME": "/x"}, `C:\U\m\AppData\Local\seatproof`},
		{"Windows, nothing", "windows", map[string]string{"HOME": "/x"}, ""},
	} {
		got, err := Data(c.system, func(k string) string { return c.env[k] })
		if got != c.want || (err == nil) != (c.want != "") {
			t.Errorf("%s: got %q, error %v, want %q", c.what, got, err, c.want)
		}
	}
}
