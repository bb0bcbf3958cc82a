package web

import (
	"strings"
	"testing"
)

// What the form changes is changed where it stands in the rig's file: the person's
// comments, and figures that are only shown rounded, stay to the byte.
func TestRigFormKeepsComments(t *testing.T) {
	b := newBed(t)
	const file = `# the red box
name = "bench"            # on its label
volume = "62.1234 ± 2.5 cm3" # filled with water

[pump]
# no papers
blanked = "21.512 inHg"   # three times
[gauge]
unit = "inHg"
division = "0.5 inHg" # fine enough
[air]
pressure = "100.637 kPa"  # barometer
# the end
`
	r := call(t, b, "POST", "rigs", obj{"name": "bench", "file": file}, 201)
	if got := at(t, r, "rig.file"); got != file {
		t.Fatalf("the file is kept as\n%v", got)
	}
	way := "rigs/" + at(t, r, "rig.id").(string)
	put := func(body obj) map[string]any {
		t.Helper()
		body["rev"] = at(t, r, "rig.rev")
		r = call(t, b, "PUT", way, body, 200)
		return r
	}
	// The form sends all it shows, as it shows it.
	shown := func() obj {
		fields := obj{}
		for _, f := range at(t, r, "rig.fields").([]any) {
			fields[f.(map[string]any)["key"].(string)] = f.(map[string]any)["text"]
		}
		return obj{"name": at(t, r, "rig.name"), "gauge_unit": at(t, r, "rig.gauge.unit"), "division": at(t, r, "rig.gauge.division"), "fields": fields}
	}
	if got := at(t, put(shown()), "rig.file"); got != file {
		t.Errorf("saved as it was it is\n%v", got)
	}
	form := shown()
	form["name"], form["kind"] = "the bench", "needle"
	form["fields"].(obj)["pump.blanked"] = "22"
	form["fields"].(obj)["pump.free_flow"] = "10 L/min"
	form["fields"].(obj)["volume"] = ""
	want := strings.NewReplacer(`"bench"            #`, `"the bench"        #`, "volume = \"62.1234 ± 2.5 cm3\" # filled", "# filled",
		`"21.512 inHg"   # three times`+"\n", `"22 inHg"       # three times`+"\nfree_flow = \"10 L/min\"\n", "# fine enough\n", "# fine enough\nkind = \"needle\"\n").Replace(file)
	if got := at(t, put(form), "rig.file"); got != want {
		t.Errorf("the file is\n%v\nwant\n%s", got, want)
	}
	form = shown()
	form["gauge_unit"] = "mbar"
	if got := at(t, put(form), "rig.file"); got != strings.NewReplacer(`unit = "inHg"`, `unit = "mbar"`, `"0.5 inHg"`, `"0.5 mbar"`).Replace(want) {
		t.Errorf("in another unit the file is\n%v", got)
	}
	if got := at(t, r, "rig.gauge.unit"); got != "mbar" {
		t.Errorf("the unit is %v", got)
	}
	bad := shown()
	bad["rev"], bad["fields"].(obj)["volume"] = at(t, r, "rig.rev"), "900 L"
	if got := call(t, b, "PUT", way, bad, 422); at(t, got, "error.fields.0.field") != "fields.volume" {
		t.Errorf("a volume of 900 L: %v", got)
	}
}

// A file of before there was a key for the unit says it in a comment, which is read,
// and gives way to the key when the form is saved.
func TestRigUnitInComment(t *testing.T) {
	b := newBed(t)
	r := call(t, b, "POST", "rigs", obj{"name": "old", "file": "# gauge unit: mbar\nname = \"old\"\n"}, 201)
	if got := at(t, r, "rig.gauge.unit"); got != "mbar" {
		t.Errorf("the unit is %v, want mbar", got)
	}
	r = call(t, b, "PUT", "rigs/"+at(t, r, "rig.id").(string), obj{"rev": at(t, r, "rig.rev"), "fields": obj{"volume": "60 cm3"}}, 200)
	if got, want := at(t, r, "rig.file"), "name = \"old\"\nvolume = \"60 cm³\"\n\n[gauge]\nunit = \"mbar\"\n"; got != want {
		t.Errorf("the file is %q, want %q", got, want)
	}
	// A new rig says its unit by the key.
	r = call(t, b, "POST", "rigs", obj{"name": "new", "gauge_unit": "psi", "kind": "needle"}, 201)
	if got, want := at(t, r, "rig.file"), "name = \"new\"\n\n[gauge]\nkind = \"needle\"\nunit = \"psi\"\n"; got != want {
		t.Errorf("the file is %q, want %q", got, want)
	}
	// A gauge in a unit that the sheets have not is shown in one they have, and keeps its own.
	r = call(t, b, "POST", "rigs", obj{"name": "bar", "file": "[gauge]\nunit = \"bar\"\n"}, 201)
	r = call(t, b, "PUT", "rigs/"+at(t, r, "rig.id").(string), obj{"rev": at(t, r, "rig.rev"), "gauge_unit": at(t, r, "rig.gauge.unit"), "kind": "needle"}, 200)
	if got := at(t, r, "rig.file").(string); !strings.Contains(got, `unit = "bar"`) {
		t.Errorf("the file is %q", got)
	}
}
