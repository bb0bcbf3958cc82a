package web

import "testing"

// First bytes as the WHATWG MIME Sniffing Standard and ISO/IEC 23008-12 (from
// memory) have them; a text that calls itself a photo is none.
func TestKindOf(t *testing.T) {
	for _, c := range []struct{ name, start, declared, want string }{
		{"jpeg", "\xff\xd8\xff\xe1\x00\x22Exif\x00\x00", "image/jpeg", "image/jpeg"},
		{"jpeg called something else", "\xff\xd8\xff\xe0", "application/octet-stream", "image/jpeg"},
		{"png", "\x89PNG\r\n\x1a\n", "", "image/png"},
		{"heic called jpeg", "\x00\x00\x00\x18ftypheic\x00\x00", "image/jpeg", "image/heic"},
		{"sound of a phone", "\x00\x00\x00\x18ftypM4A \x00\x00", "", "audio/mp4"},
		{"sound in a common container", "\x00\x00\x00\x18ftypmp42\x00\x00", "audio/mp4", "audio/mp4"},
		{"film", "\x00\x00\x00\x18ftypmp42\x00\x00", "video/mp4", ""},
		{"webm as recorded", "\x1aE\xdf\xa3\x9f", "audio/webm;codecs=opus", "audio/webm"},
		{"webm film", "\x1aE\xdf\xa3\x9f", "video/webm", ""},
		{"ogg", "OggS\x00\x02", "", "audio/ogg"},
		{"wave", "RIFF\x24\x00\x00\x00WAVEfmt ", "", "audio/wav"},
		{"mp3", "ID3\x03\x00", "", "audio/mpeg"},
		{"mp3 without a tag", "\xff\xfb\x90\x00", "", "audio/mpeg"},
		{"text called a photo", "time_s,vacuum_kPa\n0,70\n", "image/jpeg", ""},
		{"page called a sound", "<!doctype html><p>", "audio/mpeg", ""},
		{"nothing", "", "image/png", ""},
	} {
		if got := kindOf([]byte(c.start), c.declared); got != c.want {
			t.Errorf("%s: got %q, want %q", c.name, got, c.want)
		}
	}
}
