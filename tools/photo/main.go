// Command photo FOLDER writes photos as phones make them, for the test of the
// sheets: one picture with each of the eight orientations of Exif, a large one,
// a file that begins as a HEIC does, and a second of sound.
package main

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"image"
	"image/color"
	"image/jpeg"
	"log"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
)

func main() {
	if len(os.Args) != 2 {
		log.Fatal("usage: photo FOLDER")
	}
	folder := os.Args[1]
	if err := os.MkdirAll(folder, 0o755); err != nil {
		log.Fatal(err)
	}
	write := func(name string, b []byte) {
		if err := os.WriteFile(filepath.Join(folder, name), b, 0o644); err != nil {
			log.Fatal(err)
		}
	}
	for o := 1; o <= 8; o++ {
		write(fmt.Sprintf("turned-%d.jpg", o), turned(o))
	}
	write("large.jpg", large())
	write("IMG_0412.HEIC", append([]byte("\x00\x00\x00\x18ftypheic\x00\x00\x00\x00mif1heic"), make([]byte, 40_000)...))
	write("note.wav", sound())
	write("readme.jpg", []byte("this is a text that calls itself a photo\n"))
}

const wide, high = 240, 160

// upright is what every one of the eight must look like: red, green, blue and
// white quarters, clockwise from the top left.
func upright(x, y int) color.Color {
	switch {
	case x < wide/2 && y < high/2:
		return color.RGBA{200, 30, 30, 255}
	case y < high/2:
		return color.RGBA{30, 160, 30, 255}
	case x >= wide/2:
		return color.RGBA{30, 30, 200, 255}
	}
	return color.White
}

// turned stores the upright picture so that orientation o shows it upright:
// where the 0th row and column lie is Exif 2.3 (CIPA DC-008), tag 0x0112.
func turned(o int) []byte {
	w, h := wide, high
	if o >= 5 {
		w, h = high, wide
	}
	m := image.NewRGBA(image.Rect(0, 0, w, h))
	for y := range h {
		for x := range w {
			u, v := x, y // of the upright picture
			switch o {
			case 2:
				u = w - 1 - x
			case 3:
				u, v = w-1-x, h-1-y
			case 4:
				v = h - 1 - y
			case 5:
				u, v = y, x
			case 6:
				u, v = wide-1-y, x
			case 7:
				u, v = wide-1-y, high-1-x
			case 8:
				u, v = y, high-1-x
			}
			m.Set(x, y, upright(u, v))
		}
	}
	var b bytes.Buffer
	if err := jpeg.Encode(&b, m, &jpeg.Options{Quality: 92}); err != nil {
		log.Fatal(err)
	}
	// SOI, then APP1 with one entry of one directory: Orientation, SHORT, 1, o
	tiff := []byte("MM\x00*\x00\x00\x00\x08\x00\x01\x01\x12\x00\x03\x00\x00\x00\x01\x00\x00\x00\x00\x00\x00\x00\x00")
	tiff[19] = byte(o)
	app := append([]byte("Exif\x00\x00"), tiff...)
	out := append([]byte{0xff, 0xd8, 0xff, 0xe1, byte((len(app) + 2) >> 8), byte(len(app) + 2)}, app...)
	return append(out, b.Bytes()[2:]...)
}

// large is a photo of some 12 MB: noise hardly packs.
func large() []byte {
	m := image.NewGray(image.Rect(0, 0, 4400, 3200))
	r := rand.New(rand.NewPCG(4, 12))
	for i := range m.Pix {
		m.Pix[i] = byte(r.Uint32())
	}
	var b bytes.Buffer
	if err := jpeg.Encode(&b, m, &jpeg.Options{Quality: 92}); err != nil {
		log.Fatal(err)
	}
	return b.Bytes()
}

// sound is a second of 440 Hz as WAVE.
func sound() []byte {
	const rate = 8000
	var b bytes.Buffer
	b.WriteString("RIFF")
	_ = binary.Write(&b, binary.LittleEndian, uint32(36+2*rate))
	b.WriteString("WAVEfmt ")
	for _, v := range []any{uint32(16), uint16(1), uint16(1), uint32(rate), uint32(2 * rate), uint16(2), uint16(16)} {
		_ = binary.Write(&b, binary.LittleEndian, v)
	}
	b.WriteString("data")
	_ = binary.Write(&b, binary.LittleEndian, uint32(2*rate))
	for i := range rate {
		_ = binary.Write(&b, binary.LittleEndian, int16(8000*math.Sin(2*math.Pi*440*float64(i)/rate)))
	}
	return b.Bytes()
}
