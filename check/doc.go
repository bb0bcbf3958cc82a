// Package check checks a vacuum rig, so that a faulty gauge or a weeping fitting
// is found before a valve is blamed.
//
// Start with a check, such as [BlankedSeries] or [SyringeVolume]: it takes the
// figures of the day and gives a [Result], a dated value with its interval, a
// verdict and the words of its evidence. [Apply] puts what is still trusted into
// a rig.Rig, on which package leak reads the day's tests; [Worth] says which
// check would narrow an interval most.
//
// SI inside. A vacuum that a person reads has the vented reading (the gauge's
// zero) taken off already, unless a function says otherwise; ± means 95 %. No
// function knows the time: when a check was made, and now, are arguments.
// Equations, sources and guesses: docs/model.md §5.
package check
