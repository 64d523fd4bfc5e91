package hydraulics

import "fmt"

// Fitting names a part with a minor loss, K in h = K·V²/2g on the velocity in
// the pipe that it sits in.
type Fitting string

// Fittings of hoses and drains.
const (
	EntranceProjecting Fitting = "entrance, projecting"
	EntranceSharp      Fitting = "entrance, flush and sharp"
	EntranceRounded    Fitting = "entrance, slightly rounded"
	EntranceBell       Fitting = "entrance, well rounded"
	Exit               Fitting = "exit"
	ElbowFlanged       Fitting = "elbow 90°, flanged"
	ElbowThreaded      Fitting = "elbow 90°, threaded"
	ElbowLongFlanged   Fitting = "elbow 90°, long radius, flanged"
	ElbowLongThreaded  Fitting = "elbow 90°, long radius, threaded"
	Elbow45Threaded    Fitting = "elbow 45°, threaded"
	TeeLineFlanged     Fitting = "tee, straight through, flanged"
	TeeLineThreaded    Fitting = "tee, straight through, threaded"
	TeeBranchFlanged   Fitting = "tee, branch, flanged"
	TeeBranchThreaded  Fitting = "tee, branch, threaded"
	ReturnFlanged      Fitting = "return 180°, flanged"
	ReturnThreaded     Fitting = "return 180°, threaded"
	Union              Fitting = "union, threaded"
	GlobeValve         Fitting = "globe valve, open"
	AngleValve         Fitting = "angle valve, open"
	GateValve          Fitting = "gate valve, open"
	SwingCheckValve    Fitting = "swing check valve, forward"
	BallValve          Fitting = "ball valve, open"
)

// The entrances and the exit are middle values of a range; the rest is Munson
// et al., Fundamentals of Fluid Mechanics, Table 8.2. Foot valves are left out:
// handbooks differ tenfold, so theirs must be stated.
var losses = map[Fitting]float64{
	EntranceProjecting: 0.9, EntranceSharp: 0.5, EntranceRounded: 0.2, EntranceBell: 0.04, Exit: 1,
	ElbowFlanged: 0.3, ElbowThreaded: 1.5, ElbowLongFlanged: 0.2, ElbowLongThreaded: 0.7, Elbow45Threaded: 0.4,
	TeeLineFlanged: 0.2, TeeLineThreaded: 0.9, TeeBranchFlanged: 1, TeeBranchThreaded: 2,
	ReturnFlanged: 0.2, ReturnThreaded: 1.5, Union: 0.08,
	GlobeValve: 10, AngleValve: 2, GateValve: 0.15, SwingCheckValve: 2, BallValve: 0.05,
}

// MinorLoss sums K of the fittings; it is dimensionless and holds for turbulent flow. An unknown
// fitting is an error.
func MinorLoss(fittings ...Fitting) (float64, error) {
	var sum float64
	for _, f := range fittings {
		k, ok := losses[f]
		if !ok {
			return 0, fmt.Errorf("minor loss of %q: not in the table; give its K instead", f)
		}
		sum += k
	}
	return sum, nil
}
