package pages

import (
	"strings"

	"tiedown/internal/casefile"
	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
	"tiedown/internal/walkaround"
)

// resultPhoto is a photo that the form of a station sends with a result.
type resultPhoto struct {
	check  string
	result techlog.ID
	raw    []byte
}

// readPhotos reads the photos of a station's form. One whose check says nothing is named as a fault: a photo without a
// result would be of nothing.
func readPhotos(v *visit, standings []walkaround.Standing, station walkaround.Station, results []walkaround.Result) ([]resultPhoto, casefile.Faults, error) {
	var photos []resultPhoto
	var bad casefile.Faults
	of := map[string]techlog.ID{}
	for i := range results {
		of[results[i].Check] = results[i].ID
	}
	for i := range standings {
		c := &standings[i].Check
		if c.Station != station {
			continue
		}
		raw, err := v.upload(fieldOf(c.ID, "photo"))
		if err != nil {
			return nil, nil, err
		}
		result, said := of[c.ID]
		switch {
		case len(raw) == 0:
		case !said:
			bad.Add(fieldOf(c.ID, "outcome"), "required", "there is a photo, and nothing is said of the check", "say how it is, and choose the photo again")
		default:
			photos = append(photos, resultPhoto{c.ID, result, raw})
		}
	}
	return photos, bad, nil
}

// keepResultPhotos keeps photos of results that are on record, and says why one was not taken, if any. A queue gets the error
// if it may send the photo again.
func (p *pages) keepResultPhotos(v *visit, walk techlog.ID, photos []resultPhoto) (trouble string, err error) {
	for _, photo := range photos {
		of := techlog.PhotoOf{Walkaround: walk, Result: photo.result}
		_, err := p.Service.AddPhoto(v, v.who, hangar.Upload{Of: of, Raw: photo.raw}, v.once(" photo "+photo.check, photo.raw),
			keep(func(f techlog.Photo) techlog.ID { return f.ID }))
		if err == nil {
			continue
		}
		if trouble = photoTrouble(err); v.queued() && trouble == photoFailed {
			return trouble, err
		}
	}
	return trouble, nil
}

// photoLost says in words why a photo is not there.
func photoLost(trouble string) string {
	switch trouble {
	case "":
		return ""
	case string(techlog.KindInvalid):
		return "It is no picture that can be read: send JPEG, PNG or WebP of at most 10 MiB."
	case string(techlog.KindForbidden):
		return "Your role may not add photos."
	default:
		return "Something failed on the way."
	}
}

const walkPhotos = 200

// photosOnWalk reads the photos of a walkaround's results.
func (p *pages) photosOnWalk(v *visit, w hangar.WalkaroundView, view *walkView) error {
	if w.Photos == 0 {
		return nil
	}
	photos, err := p.Service.Photos(v, v.who, hangar.PhotoFilter{Walkaround: w.Walkaround.ID}, hangar.Page{Limit: walkPhotos})
	if err != nil {
		return err
	}
	view.Photos = map[techlog.ID][]techlog.Photo{}
	for _, photo := range photos {
		view.Photos[photo.Of.Result] = append(view.Photos[photo.Of.Result], photo)
	}
	return nil
}

// meanwhile is what whoever sent a station late ought to hear: that others said otherwise, that the walkaround had ended,
// or that a photo is not there.
func meanwhile(w hangar.WalkaroundView, station walkaround.Station, trouble string) []string {
	var says, contested []string
	for i := range w.Review.Standings {
		if s := &w.Review.Standings[i]; s.Applies && s.Check.Station == station && s.State == walkaround.Contested {
			contested = append(contested, s.Check.Words)
		}
	}
	if len(contested) > 0 {
		says = append(says, "It contradicts what somebody else said: "+strings.Join(contested, "; ")+". Look again, and say how it is.")
	}
	if w.Walkaround.State == walkaround.Completed {
		says = append(says, "The walkaround had been completed by "+w.Walkaround.CompletedBy+" before it came: it is taken down as late.")
	}
	if trouble != "" {
		says = append(says, "What you said is on record, a photo is not. "+photoLost(trouble))
	}
	return says
}
