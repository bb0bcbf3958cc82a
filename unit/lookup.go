package unit

import (
	"math"
	"slices"
	"strings"
)

// units is every spelling with its unit; folded and foldedEveryday are the
// same by lower-case spelling, each with the units it could mean.
var units, folded, foldedEveryday = buildUnits()

func buildUnits() (exact map[string]UnitInfo, folded, foldedEveryday map[string][]UnitInfo) {
	exact = make(map[string]UnitInfo)
	add := func(spelling string, u UnitInfo) {
		if _, taken := exact[spelling]; !taken {
			u.Factor = u.num / u.den
			exact[spelling] = u
		}
	}
	// Plain units before prefixed ones: ml is the cm³, not a millilitre of its own.
	for _, d := range definitions {
		u := UnitInfo{Name: d.name, Dim: d.dim, Shift: d.shift, num: d.num, den: d.den}
		for _, s := range append(strings.Fields(d.aliases), key(d.name)) {
			add(s, u)
		}
	}
	for _, d := range definitions {
		if !d.prefixed {
			continue
		}
		for _, p := range prefixes {
			u := UnitInfo{Name: p.spellings[0] + d.name, Dim: d.dim, num: d.num * p.num, den: d.den * p.den}
			if q := u.num / u.den; q == math.Trunc(q) { // a mbar is 100 Pa: one rounding fewer
				u.num, u.den = q, 1
			}
			for _, prefix := range p.spellings {
				for _, s := range prefixable(d) {
					add(prefix+s, u)
				}
			}
		}
	}
	folded, foldedEveryday = make(map[string][]UnitInfo), make(map[string][]UnitInfo)
	for s, u := range exact {
		addOnce(folded, strings.ToLower(s), u)
	}
	for _, s := range everyday {
		addOnce(foldedEveryday, strings.ToLower(s), exact[key(s)])
	}
	for _, list := range folded {
		slices.SortFunc(list, func(a, b UnitInfo) int { return strings.Compare(a.Name, b.Name) })
	}
	return exact, folded, foldedEveryday
}

// prefixable returns the spellings of a unit that a prefix may stand before.
func prefixable(d definition) []string {
	switch d.name {
	case "L":
		return []string{"L", "l"}
	case "s":
		return []string{"s", "sec"}
	default:
		return []string{d.name}
	}
}

func addOnce(m map[string][]UnitInfo, s string, u UnitInfo) {
	for _, have := range m[s] {
		if have.Name == u.Name {
			return
		}
	}
	m[s] = append(m[s], u)
}

// keyReplacer brings the ways of writing one unit to one spelling.
var keyReplacer = strings.NewReplacer(
	" ", "", "³", "3", "²", "2", "^", "", "₂", "2", "⁻¹", "-1", "⁻", "-", "¹", "1",
	"″", `"`, "”", `"`, "''", `"`,
)

// key returns the spelling under which a unit stands in the table.
func key(name string) string { return keyReplacer.Replace(clean(name)) }

// UnitOf finds a unit by any of its spellings: "inHg", "cm3/min", "KPA". The
// second result is false where there is none, or where the spelling fits
// several ("MPA").
func UnitOf(name string) (UnitInfo, bool) {
	u, fits := find(key(name))
	return u, len(fits) == 1
}

// find returns the unit of a key, and the canonical names of all units it
// could mean: one if it is found, none if it is unknown.
func find(k string) (UnitInfo, []string) {
	if u, ok := exactly(k); ok {
		return u, []string{u.Name}
	}
	k = strings.ToLower(k)
	if k == "m" || k == "k" { // a prefix by itself
		return UnitInfo{}, nil
	}
	for _, table := range []map[string][]UnitInfo{foldedEveryday, folded} {
		if list := foldedIn(table, k); len(list) > 0 {
			var names []string
			for _, u := range list {
				names = append(names, u.Name)
			}
			return list[0], names
		}
	}
	return UnitInfo{}, nil
}

// exactly finds a key that is spelled right, composing a flow where it has a
// slash.
func exactly(k string) (UnitInfo, bool) {
	if u, ok := units[k]; ok {
		return u, true
	}
	over, under, ok := strings.Cut(k, "/")
	if !ok {
		return UnitInfo{}, false
	}
	volume, ok1 := units[over]
	time, ok2 := units[under]
	if !ok1 || !ok2 || volume.Dim != VolumeDim || time.Dim != TimeDim {
		return UnitInfo{}, false
	}
	return flow(volume, time), true
}

// foldedIn finds all units of a lower-case key in one table.
func foldedIn(table map[string][]UnitInfo, k string) []UnitInfo {
	if list := table[k]; len(list) > 0 {
		return list
	}
	over, under, ok := strings.Cut(k, "/")
	if !ok {
		return nil
	}
	var list []UnitInfo
	for _, volume := range table[over] {
		for _, time := range table[under] {
			if volume.Dim == VolumeDim && time.Dim == TimeDim {
				list = append(list, flow(volume, time))
			}
		}
	}
	return list
}

// flow returns the flow of one volume in one time.
func flow(volume, time UnitInfo) UnitInfo {
	name := volume.Name + "/" + time.Name
	if u, ok := units[key(name)]; ok { // ft³/min is the cfm, L/min has a row of its own
		return u
	}
	u := UnitInfo{Name: name, Dim: FlowDim, num: volume.num * time.den, den: volume.den * time.num}
	u.Factor = u.num / u.den
	return u
}

// traps are spellings that are well known elsewhere but would be taken
// wrongly here.
var traps = map[string]string{
	"sccm":    "it is a flow at standard conditions, and there are several: work out the free air it stands for and give it in cm3/min",
	"slpm":    "it is a flow at standard conditions, and there are several: work out the free air it stands for and give it in L/min",
	"scfm":    "it is a flow at standard conditions, and there are several: work out the free air it stands for and give it in cfm",
	"scfh":    "it is an hour's flow at standard conditions, and there are several: work out the free air it stands for and give it in L/min",
	"pam3/s":  "it is pressure times volume a second: over the pressure of the room, in Pa, it is free air in m3/s",
	"mbarl/s": "it is pressure times volume a second: over the pressure of the room, in mbar, it is free air in L/s",
	"nl/min":  "it is a flow at normal conditions, and there are several: work out the free air it stands for and give it in L/min",
	"ccm":     "it could be cm3 or cm3/min: write one of them",
	"psia":    "write psi; whether it is absolute is known from where it stands",
	"psig":    "write psi; whether it is below the room is known from where it stands",
	"bara":    "write bar; whether it is absolute is known from where it stands",
	"barg":    "write bar; whether it is below the room is known from where it stands",
}

// lookup finds the unit written as name in text, for a quantity of the given
// dimension (0: any), or says why not.
func lookup(text, name string, dim Dimension) (UnitInfo, error) {
	name = strings.TrimSpace(name)
	k := key(name)
	u, fits := find(k)
	if len(fits) > 1 && dim != 0 { // the dimension may settle it
		u, fits = settle(k, dim, u, fits)
	}
	switch {
	case len(fits) == 1 && (dim == 0 || u.Dim == dim):
		return u, nil
	case len(fits) == 1:
		return UnitInfo{}, &WrongUnitError{Text: text, Unit: u.Name, Is: u.Dim, Needs: dim}
	case len(fits) > 1:
		return UnitInfo{}, &UnknownUnitError{Text: text, Unit: name, Fits: fits, Dim: dim}
	}
	if note := traps[strings.ToLower(k)]; note != "" {
		return UnitInfo{}, &UnknownUnitError{Text: text, Unit: name, Note: note, Dim: dim}
	}
	if e := prefixFault(k); e != nil {
		e.Text = text
		return UnitInfo{}, e
	}
	return UnitInfo{}, &UnknownUnitError{Text: text, Unit: name, Nearest: nearest(k, dim), Dim: dim}
}

// settle keeps those of several units that measure dim, if there are any.
func settle(k string, dim Dimension, u UnitInfo, fits []string) (UnitInfo, []string) {
	var kept []string
	for _, name := range fits {
		if f, ok := exactly(key(name)); ok && f.Dim == dim {
			kept = append(kept, name)
			u = f
		}
	}
	if len(kept) > 0 {
		return u, kept
	}
	return u, fits
}

// prefixFault tells a wrong prefix before a known unit from a unit that is
// unknown altogether. A unit of one letter says too little (a word may well
// end with s or m), so before it only the real SI prefixes that are not taken
// here count; before the others, any one or two letters.
func prefixFault(k string) *UnknownPrefixError {
	if over, under, ok := strings.Cut(k, "/"); ok {
		if u, known := units[under]; known && u.Dim == TimeDim {
			k = over
		}
	}
	var found *UnknownPrefixError
	for _, d := range definitions {
		symbol := key(d.name)
		prefix, ok := strings.CutSuffix(k, symbol)
		if !ok || prefix == "" || strings.Trim(prefix, "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZµ") != "" {
			continue
		}
		letters := len([]rune(prefix))
		real := letters == 1 && strings.Contains(otherPrefixes, prefix)
		ours := slices.ContainsFunc(prefixes, func(p siPrefix) bool { return slices.Contains(p.spellings, prefix) })
		if d.prefixed && (real || len(symbol) > 1 && letters <= 2) ||
			!d.prefixed && len(symbol) > 1 && (real || ours) {
			if found == nil || len(found.Prefix) > len(prefix) {
				found = &UnknownPrefixError{Prefix: prefix, Unit: d.name, None: !d.prefixed}
			}
		}
	}
	return found
}

// nearest returns the canonical spelling of the known unit whose spelling is
// the fewest edits away from k, those of dim first and of another only where one edit
// makes it; empty if even the nearest
// has little in common with it.
func nearest(k string, dim Dimension) string {
	best, bestCost := "", 0
	k = strings.ToLower(k)
	names := make([]string, 0, len(units))
	for s := range units {
		names = append(names, s)
	}
	slices.Sort(names)
	for _, s := range names {
		u := units[s]
		// Twice the edits, plus one outside the dimension, plus one for a
		// unit that is not an everyday one.
		edits := distance([]rune(k), []rune(strings.ToLower(s)))
		if 2*edits > max(len([]rune(k)), len([]rune(s))) || edits > 1 && dim != 0 && u.Dim != dim {
			continue
		}
		cost := 4 * edits
		if dim != 0 && u.Dim != dim {
			cost += 2
		}
		if len(foldedEveryday[strings.ToLower(s)]) == 0 {
			cost++
		}
		if best == "" || cost < bestCost {
			best, bestCost = u.Name, cost
		}
	}
	return best
}
