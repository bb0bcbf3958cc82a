package check

// HasRule says whether a rule finds a fault.
func HasRule(c FaultCode) bool {
	for _, r := range faultRules {
		if r.code == c {
			return true
		}
	}
	return false
}
