package assess

// Lie lists the cables that lie in a route, those of its runs in text order and then
// those of other projects. A gap without a reason hangs on a value that is told where it
// is written.
func (v *Review) Lie(shared *Shared) []Piece {
	if shared.Held != nil {
		return shared.Held.Pieces
	}
	return v.contents(shared).Pieces
}
