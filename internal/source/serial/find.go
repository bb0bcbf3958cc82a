package serial

import (
	"context"
	"slices"
	"strings"

	port "go.bug.st/serial"

	"seatproof/internal/source"
)

// usbPort is a port with what its USB adapter says of itself.
type usbPort struct {
	path, number, product string
	usb                   bool
}

// Find lists the serial ports of the machine, those on USB first. It opens
// none, as opening starts some boards again.
func Find(context.Context) []source.Found {
	all, err := list()
	if err != nil {
		// the plain list says less, and works where the other does not
		names, err := port.GetPortsList()
		if err != nil {
			return []source.Found{{Words: "serial ports", Failed: err.Error()}}
		}
		for _, n := range names {
			all = append(all, usbPort{path: n})
		}
	}
	slices.SortStableFunc(all, func(a, b usbPort) int {
		switch {
		case a.usb && !b.usb:
			return -1
		case b.usb && !a.usb:
			return 1
		}
		return strings.Compare(a.path, b.path)
	})
	var found []source.Found
	for _, p := range all {
		a := source.Address{Kind: "serial", Place: p.path, Options: map[string]string{}}
		words := "serial port"
		if p.usb {
			words = "USB serial port"
			if p.product != "" {
				words += ", " + p.product
			}
			if p.number != "" {
				a.Options["usb"] = p.number
			}
		}
		found = append(found, source.Found{Address: a, Words: words, Skipped: "not opened: that starts some boards again"})
	}
	return found
}

// findUSB returns where the adapter with a serial number is now; "": nowhere.
func findUSB(number string) string {
	all, err := list()
	if err != nil {
		return ""
	}
	for _, p := range all {
		if strings.EqualFold(p.number, number) {
			return p.path
		}
	}
	return ""
}

// serialOf returns the serial number of the adapter at a path; "": none.
func serialOf(path string) string {
	all, err := list()
	if err != nil {
		return ""
	}
	number := ""
	for _, p := range all {
		if p.path == path {
			number = p.number
		}
	}
	if number == "" {
		return ""
	}
	for _, p := range all {
		if p.path != path && p.number == number {
			return "" // cheap adapters share one number
		}
	}
	return number
}
