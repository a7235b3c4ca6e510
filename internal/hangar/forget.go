package hangar

import (
	"context"
	"time"
)

// memory is how long is kept what has ended: sessions, challenges, attempts to get in, and the answers to requests that may
// be sent again under their key.
const memory = 30 * 24 * time.Hour

// Forget takes away what has ended for longer than it is kept. None of it is a record of the fleet or of what somebody did:
// those stay, security events among them. It gives the number of what was taken away. It is safe to run twice.
func (s *Service) Forget(ctx context.Context, k Keeper) (int, error) {
	before := s.now().Add(-memory)
	n, err := k.ForgetEnded(ctx, before)
	if err != nil {
		return n, err
	}
	organizations, err := k.Organizations(ctx)
	if err != nil {
		return n, err
	}
	for _, o := range organizations {
		gone, err := k.ForgetAnswers(ctx, o.ID, before)
		if err != nil {
			return n, err
		}
		n += gone
	}
	return n, nil
}
