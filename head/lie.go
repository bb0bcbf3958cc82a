package head

// orUsual is how a head is drawn before anybody said how it lies: chambers up, the
// maker's first end at the left, the intake side towards the person.
func (l Lie) orUsual() Lie {
	if l.Said {
		return l
	}
	return Lie{ChambersUp: true, FirstLeft: true, Landmark: l.Landmark}
}

// TurnedOver is the head rolled over about its long axis: the other face is up,
// the same end stays at the left, intake and exhaust change sides.
func (l Lie) TurnedOver() Lie {
	l = l.orUsual()
	l.Said, l.ChambersUp, l.IntakeAway = true, !l.ChambersUp, !l.IntakeAway
	return l
}

// TurnedRound is the head turned half a turn on the bench: the same face stays
// up, the ends change and so do the sides.
func (l Lie) TurnedRound() Lie {
	l = l.orUsual()
	l.Said, l.FirstLeft, l.IntakeAway = true, !l.FirstLeft, !l.IntakeAway
	return l
}

// Mirrored is another head: the one with its intake on the other side. It puts
// right a drawing that no turning puts right.
func (l Lie) Mirrored() Lie {
	l = l.orUsual()
	l.Said, l.IntakeAway = true, !l.IntakeAway
	return l
}

// IntakeRight says on which hand the intake side lies to someone who looks along
// the head from the maker's first end, chambers down. It is the head's own:
// turning does not change it, [Lie.Mirrored] does.
func (l Lie) IntakeRight() bool {
	l = l.orUsual()
	// Chambers down, first end at the left: looking from it, away is at the left hand.
	right := !l.IntakeAway
	if !l.FirstLeft {
		right = !right
	}
	if l.ChambersUp {
		right = !right
	}
	return right
}
