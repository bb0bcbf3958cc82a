//go:build !darwin || cgo

package serial

import "go.bug.st/serial/enumerator"

// list asks the system for its ports and their adapters.
func list() ([]usbPort, error) {
	ports, err := enumerator.GetDetailedPortsList()
	if err != nil {
		return nil, err
	}
	var out []usbPort
	for _, p := range ports {
		out = append(out, usbPort{path: p.Name, number: p.SerialNumber, product: p.Product, usb: p.IsUSB})
	}
	return out, nil
}
