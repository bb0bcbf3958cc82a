package practise

// Script prompts an operator when no session does: the blank, the known leak,
// then every port in order, once more each that the operator repeats, and from
// the start again.
type Script struct {
	Order []string
	Once  bool // stop at the end

	at, filed int
	pulled    bool
}

// NewScript goes through the ports of a setup, blank and known leak first.
func NewScript(s Setup) *Script {
	order := []string{Blank, KnownLeak}
	for _, p := range s.Ports {
		order = append(order, p.ID)
	}
	return &Script{Order: order}
}

// Prompt returns what is to be tested, by what the bench does.
func (s *Script) Prompt(b *Bench) Prompt {
	switch { // a test that was pulled and vented counts as filed
	case b.Pumping():
		s.pulled = true
	case s.pulled && b.Vented():
		s.pulled = false
		s.filed++
	}
	p := Prompt{Filed: s.filed}
	if s.at < len(s.Order) {
		p.On = s.Order[s.at]
	}
	return p
}

// Press takes the operator's key.
func (s *Script) Press(k Press) {
	if k != PressNext {
		return
	}
	if s.at++; s.at >= len(s.Order) && !s.Once {
		s.at = 0
	}
}

// Ended says whether the order has been gone through.
func (s *Script) Ended() bool { return s.at >= len(s.Order) }
