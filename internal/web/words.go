package web

import (
	"net/http"

	"seatproof/head"
	"seatproof/internal/report"
	"seatproof/limit"
	"seatproof/rig"
)

// word is what a screen shows for a coded value.
type word struct {
	Code  string `json:"code"`
	Word  string `json:"word"`
	Short string `json:"short,omitempty"` // where four stand in a row on a phone
	Many  string `json:"many,omitempty"`
	Hint  string `json:"hint,omitempty"`
}

var (
	stateWords = []word{
		{Code: string(report.Holds), Word: "holds", Many: "hold"},
		{Code: string(report.Leaks), Word: "leaks", Many: "leak"},
		{Code: string(report.CantTellYet), Word: "can't tell yet"},
		{Code: string(report.Lapsed), Word: "lapsed", Hint: "worked on since"},
		{Code: string(report.Refused), Word: "refused"},
		{Code: string(report.Unreadable), Word: "unreadable"},
		{Code: string(report.NoVerdict), Word: "no verdict"},
		{Code: string(report.NotTested), Word: "not tested"},
	}
	heldWords = []word{
		{Code: string(rig.HeldNothing), Word: "the vacuum alone", Short: "vacuum alone"},
		{Code: string(rig.HeldThumb), Word: "a thumb", Short: "a thumb"},
		{Code: string(rig.HeldLightSpring), Word: "a light spring", Short: "light spring"},
		{Code: string(rig.HeldOwnSpring), Word: "their own springs", Short: "own springs"},
		{Code: "", Word: "not said"},
	}
	wetWords = []word{
		{Code: string(rig.WetNothing), Word: "dry"},
		{Code: string(rig.WetOil), Word: "oiled"},
		{Code: string(rig.WetWater), Word: "wet with water"},
		{Code: string(rig.WetWhiteSpirit), Word: "wet with white spirit"},
		{Code: string(rig.WetIsopropanol), Word: "wet with isopropanol"},
		{Code: string(rig.WetAcetone), Word: "wet with acetone"},
		{Code: string(rig.WetPetrol), Word: "wet with petrol", Hint: "never pump a port that is wet with fuel"},
		{Code: "", Word: "not said"},
	}
	guideWords = []word{
		{Code: string(head.GuideOpen), Word: "open"},
		{Code: string(head.GuideClosed), Word: "closed off"},
		{Code: "", Word: "not said"},
	}
	answerWords = []word{
		{Code: string(head.Yes), Word: "yes"}, {Code: string(head.No), Word: "no"}, {Code: "", Word: "not said"},
	}
	conditionWords = []word{
		{Code: string(head.StateAsFound), Word: "as found"},
		{Code: string(head.StateCleaned), Word: "cleaned"},
		{Code: string(head.StateCut), Word: "cut"},
		{Code: string(head.StateLapped), Word: "lapped"},
		{Code: string(head.StateAssembled), Word: "assembled"},
		{Code: "", Word: "not said"},
	}
	workWords = []word{
		{Code: string(head.WorkCleaned), Word: "cleaned"},
		{Code: string(head.WorkLapped), Word: "lapped"},
		{Code: string(head.WorkCut), Word: "seat cut"},
		{Code: string(head.WorkValveNew), Word: "valve replaced"},
		{Code: string(head.WorkGuideNew), Word: "guide replaced"},
		{Code: string(head.WorkSeatNew), Word: "seat replaced"},
		{Code: string(head.WorkAssembled), Word: "assembled"},
		{Code: string(head.WorkOther), Word: "other work"},
	}
	sourceWords = []word{
		{Code: string(head.FromCount), Word: "counted reading"},
		{Code: string(head.FromMarks), Word: "tapped at marks"},
		{Code: string(head.FromTable), Word: "table of readings"},
		{Code: string(head.FromSteady), Word: "steady reading only"},
		{Code: string(head.FromFile), Word: "recording"},
		{Code: string(head.FromSession), Word: "session"},
	}
	layoutWords = []word{
		{Code: string(head.FormInline), Word: "inline"}, {Code: string(head.FormVee), Word: "one bank of a vee"}, {Code: string(head.FormFlat), Word: "one bank of a flat engine"},
	}
	portsWords = []word{
		{Code: string(head.PortEach), Word: "one a cylinder"},
		{Code: string(head.PortValve), Word: "one a valve"},
		{Code: string(head.PortPairs), Word: "1 and 2 share one, 3 and 4"},
		{Code: string(head.PortCentre), Word: "the middle ones share one"},
	}
	coatingWords = []word{
		{Code: string(head.CoatingNone), Word: "neither"},
		{Code: string(head.CoatingHard), Word: "coated"},
		{Code: string(head.CoatingNitrided), Word: "nitrided"},
		{Code: string(head.CoatingTitanium), Word: "titanium"},
		{Code: string(head.CoatingHollow), Word: "hollow"},
		{Code: "", Word: "not known"},
	}
	placeWords = []word{
		{Code: "", Word: "the only one"}, {Code: "left", Word: "left"}, {Code: "middle", Word: "middle"}, {Code: "right", Word: "right"},
	}
	limitWords = []word{
		{Code: "", Word: "workmanship and cost, the stricter decides"}, {Code: string(limit.ByMaker), Word: "the maker’s figure"}, {Code: string(limit.ByOwn), Word: "a figure of my own"},
		{Code: string(limit.ByDrop), Word: "a drop below the blanked reading"}, {Code: string(limit.ByGoodPort), Word: "a port known good"},
	}
	countWords = []word{{Code: string(head.CountBanks), Word: "bank after bank"}, {Code: string(head.CountTurns), Word: "in turn: 1 3 5, 2 4 6"}}
	// plugWords are openings that ports often have beside valves and mouth; others
	// are typed. Common practice, no source.
	plugWords = []word{
		{Code: "injector hole", Word: "injector hole"}, {Code: "vacuum tapping", Word: "vacuum tapping"}, {Code: "air passage", Word: "air passage"},
	}
	callWords = map[string]string{"pump": "pump on", "shut": "shut", "5": "five", "10": "ten", "15": "fifteen", "20": "twenty"}
)

// checkWords are the kinds of check that a person may enter.
var checkWords = func() (out []word) {
	for _, k := range head.CheckKinds {
		out = append(out, word{Code: k, Word: k})
	}
	return out
}()

// wordOf returns the word of a code.
func wordOf[T ~string](words []word, code T) string {
	for _, w := range words {
		if w.Code == string(code) {
			return w.Word
		}
	}
	return string(code)
}

func known[T ~string](words []word, code T) bool {
	for _, w := range words {
		if w.Code == string(code) {
			return true
		}
	}
	return false
}

func (s *Server) getWords(w http.ResponseWriter, _ *http.Request) error {
	return s.answer(w, http.StatusOK, s.words())
}

// words are all words of the sheets; the shell carries them too, so that the
// first page need not ask.
func (s *Server) words() map[string]any {
	return map[string]any{
		"version": s.Version, "states": stateWords, "held": heldWords, "wet": wetWords, "guide": guideWords,
		"answer": answerWords, "condition": conditionWords, "work": workWords, "sources": sourceWords,
		"layouts": layoutWords, "ports": portsWords, "checks": checkWords, "calls": callWords,
		"voice": s.assets.voice, "spoken": spokenStates, "plain": plainWords,
		"coatings": coatingWords, "places": placeWords, "plugs": plugWords, "limits": limitWords, "counts": countWords,
		"sides":    []word{{Code: string(head.Intake), Word: "intake"}, {Code: string(head.Exhaust), Word: "exhaust"}},
		"units":    map[string][]string{"vacuum": report.VacuumUnits, "length": {"mm", "in"}, "volume": {"cm³", "mL", "in³"}, "flow": {"L/min", "cfm", "cm³/min"}},
		"cautions": report.Cautions(),
	}
}
