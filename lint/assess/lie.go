package assess

import "trefoil/lint/design"

// Lie lists the cables that lie in a route, those of its runs in text order and then
// those of other projects. A gap without a reason hangs on a value that is told where it
// is written.
func (v *Review) Lie(shared *Shared) []Piece {
	if shared.Held != nil {
		return shared.Held.Pieces
	}
	return v.contents(shared).Pieces
}

// DeviceNode is the node at which a device of a run stands: as stated, else the end that
// is nearer the supply. -1 where it cannot be told.
func (v *Review) DeviceNode(a *Run, d *design.Device) int { return v.deviceNode(a, d) }
