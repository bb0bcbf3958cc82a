// Package place says where on a machine a person's records belong.
package place

import (
	"errors"
	"path"
	"path/filepath"
	"strings"
)

// name is the folder's, within the one for all programs.
const name = "seatproof"

// Data returns the folder for a person's records on a system ("linux", "darwin",
// "windows", as Go names them), by its environment:
//
//	Windows    %LocalAppData%\seatproof
//	macOS      $HOME/Library/Application Support/seatproof
//	others     $XDG_DATA_HOME/seatproof, else $HOME/.local/share/seatproof
//
// A relative XDG_DATA_HOME is no folder by the rules, and is passed over.
// Source: XDG Base Directory Specification, version 0.8, section 3, from memory;
// the others are their systems' custom.
func Data(system string, env func(string) string) (string, error) {
	switch system {
	case "windows":
		if dir := env("LocalAppData"); dir != "" {
			return strings.TrimRight(dir, `\/`) + `\` + name, nil
		}
		return "", errors.New("find the folder for records: %LocalAppData% is not set; give one with --data")
	case "darwin", "ios":
		if home := env("HOME"); home != "" {
			return path.Join(home, "Library", "Application Support", name), nil
		}
	default:
		if dir := env("XDG_DATA_HOME"); path.IsAbs(dir) {
			return path.Join(dir, name), nil
		}
		if home := env("HOME"); home != "" {
			return path.Join(home, ".local", "share", name), nil
		}
	}
	return "", errors.New("find the folder for records: $HOME is not set; give one with --data")
}

// Database returns the file of records in a data folder.
func Database(data string) string { return filepath.Join(data, "seatproof.db") }
