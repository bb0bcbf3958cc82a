package leak

func (rd *reader) readHand() *Refusal { return &Refusal{Code: TooFewSamples} }
