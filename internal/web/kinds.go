package web

import (
	"bytes"
	"io"
	"net/http"
	"strings"
)

// headLength is how much of a file tells its kind.
const headLength = 512

// kindOf returns the media type of a photo or sound by its first bytes; "" for
// anything else. What a browser or phone declared decides only between sound
// and film of one container. Signatures: WHATWG MIME Sniffing Standard; HEIC
// and AVIF by the brands of ISO/IEC 23008-12.
func kindOf(start []byte, declared string) string {
	declared = mediaType(declared)
	if len(start) >= 12 && string(start[4:8]) == "ftyp" {
		switch brand := string(start[8:12]); brand {
		case "heic", "heix", "hevc", "hevx", "heim", "heis", "mif1", "msf1":
			return "image/heic"
		case "avif", "avis":
			return "image/avif"
		default:
			if brand == "M4A " || brand == "M4B " || strings.HasPrefix(declared, "audio/") {
				return "audio/mp4"
			}
		}
		return ""
	}
	switch {
	case bytes.HasPrefix(start, []byte("\x1aE\xdf\xa3")) && !strings.HasPrefix(declared, "video/"):
		return "audio/webm"
	case bytes.HasPrefix(start, []byte("OggS")):
		return "audio/ogg"
	case bytes.HasPrefix(start, []byte("ID3")) || len(start) > 1 && start[0] == 0xff && start[1]&0xe6 == 0xe2:
		return "audio/mpeg"
	case len(start) > 1 && start[0] == 0xff && start[1]&0xf6 == 0xf0:
		return "audio/aac"
	case bytes.HasPrefix(start, []byte("#!AMR")):
		return "audio/amr"
	}
	switch t := mediaType(http.DetectContentType(start)); t {
	case "image/jpeg", "image/png", "image/gif", "image/webp":
		return t
	case "audio/wave":
		return "audio/wav"
	}
	return ""
}

// firstOf reads the start of a file; a shorter one is all of it.
func firstOf(r io.Reader) ([]byte, error) {
	b := make([]byte, headLength)
	n, err := io.ReadFull(r, b)
	if err == io.ErrUnexpectedEOF || err == io.EOF {
		err = nil
	}
	return b[:n], err
}
