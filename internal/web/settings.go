package web

import (
	"context"
	"errors"
	"net/http"

	"seatproof/head"
	"seatproof/internal/report"
	"seatproof/rig"
)

// settings are one person's choices, and the last answers they gave.
type settings struct {
	VacuumUnit string          `json:"vacuum_unit"`
	Sound      string          `json:"sound"` // "" not asked yet, "voice", "beeps", "none"
	Initials   string          `json:"initials"`
	Owner      string          `json:"owner"`
	Rig        string          `json:"rig"`
	Conditions head.Conditions `json:"conditions"`
}

const settingsID = "settings"

func (s *Server) loadSettings(ctx context.Context) (kept[settings], error) {
	k, err := load[settings](ctx, s.Keeper, kindSettings, settingsID)
	if errors.Is(err, ErrNotFound) {
		k = kept[settings]{Doc: Doc{Kind: kindSettings, ID: settingsID}}
		k.V.VacuumUnit = "inHg"
		k.V.Conditions = head.Conditions{Held: rig.HeldNothing, Wet: rig.WetNothing, Guide: head.GuideOpen, State: head.StateAsFound}
		return k, nil
	}
	return k, err
}

// style says how figures are shown to this person.
func (s *Server) style(ctx context.Context) report.Style {
	k, err := s.loadSettings(ctx)
	if err != nil {
		return report.Style{}
	}
	u, _ := report.UnitNamed(k.V.VacuumUnit)
	return report.Style{Unit: u}
}

type settingsAnswer struct {
	Rev int64 `json:"rev"`
	settings
}

func (s *Server) getSettings(w http.ResponseWriter, r *http.Request) error {
	k, err := s.loadSettings(r.Context())
	if err != nil {
		return err
	}
	return s.answer(w, http.StatusOK, settingsAnswer{k.Rev, k.V})
}

func (s *Server) putSettings(w http.ResponseWriter, r *http.Request) error {
	var ask struct {
		Rev        int64            `json:"rev"`
		VacuumUnit *string          `json:"vacuum_unit"`
		Sound      *string          `json:"sound"`
		Initials   *string          `json:"initials"`
		Owner      *string          `json:"owner"`
		Rig        *string          `json:"rig"`
		Conditions *head.Conditions `json:"conditions"`
	}
	if err := take(w, r, &ask); err != nil {
		return err
	}
	var f faults
	if ask.VacuumUnit != nil {
		if _, ok := report.UnitNamed(*ask.VacuumUnit); !ok {
			f.add("vacuum_unit", "This is no unit of vacuum.", "Is it inHg?")
		}
	}
	if err := f.err(); err != nil {
		return err
	}
	// One person's choices, each a key of its own: the last one said wins.
	s.writing.Lock()
	defer s.writing.Unlock()
	k, err := s.loadSettings(r.Context())
	if err != nil {
		return err
	}
	set(&k.V.VacuumUnit, ask.VacuumUnit)
	set(&k.V.Sound, ask.Sound)
	set(&k.V.Initials, ask.Initials)
	set(&k.V.Owner, ask.Owner)
	set(&k.V.Rig, ask.Rig)
	set(&k.V.Conditions, ask.Conditions)
	if k, err = save(r.Context(), s, k, k.V.Initials); err != nil {
		return err
	}
	return s.answer(w, http.StatusOK, settingsAnswer{k.Rev, k.V})
}

// set changes a value where one was given.
func set[T any](to *T, given *T) {
	if given != nil {
		*to = *given
	}
}
