package oracle

import "slices"

// serving are the units that do the job of some of the items, as far as they are on record.
func (s *scene) serving(items ...string) []unit {
	var found []unit
	var seen []int
	for _, item := range items {
		for _, i := range s.doing[item] {
			if !slices.Contains(seen, i) {
				seen = append(seen, i)
				found = append(found, s.units[i])
			}
		}
	}
	return found
}

func working(units []unit) []unit {
	var found []unit
	for _, u := range units {
		if u.works {
			found = append(found, u)
		}
	}
	return found
}

// enough says whether what works is as much as is needed, given how much is on record. Too little on record does not
// show that there is too little, unless the record is complete, or would be enough if all of it worked.
func (s *scene) enough(needed, works, onRecord int) truth {
	switch {
	case works >= needed:
		return yes
	case s.complete() == yes || onRecord >= needed:
		return no
	}
	return unknown
}

// shown is the truth of a requirement of equipment, told of a set of units. What a sound aircraft has is short only for
// the sake of squawks. If none of these is put to the tests of 14 CFR 91.213(d)(2), because each is about damage or does
// not say what it is about, then they stand in the way themselves, and the requirement is not asked.
func (s *scene) shown(items []string, met func([]unit) truth) truth {
	units := s.serving(items...)
	if s.standsIn(items) {
		return met(allWorking(units))
	}
	asked := s.asItStands || slices.ContainsFunc(items, func(item string) bool { return s.asked[item] })
	if !asked && met(allWorking(units)) == yes {
		return yes
	}
	return met(units)
}

func allWorking(units []unit) []unit {
	units = slices.Clone(units)
	for i := range units {
		units[i].works = true
	}
	return units
}

// atLeast says whether n units of an item work.
func (s *scene) atLeast(n int, items ...string) truth {
	return s.shown(items, func(units []unit) truth { return s.enough(n, len(working(units)), len(units)) })
}

// works says whether some unit of the items works.
func (s *scene) works(items ...string) truth { return s.atLeast(1, items...) }

// everyOneWorks says whether there is a unit of an item and all of them work.
func (s *scene) everyOneWorks(items ...string) truth {
	return s.shown(items, s.wholeSystem)
}

func (s *scene) wholeSystem(units []unit) truth {
	if len(working(units)) < len(units) {
		return no
	}
	return s.enough(1, len(units), len(units))
}

// eachWorks says whether the places 1 to n (engines, tanks, seats) are each served by a unit of the item that works. Of
// a single place, every unit of the item is taken to serve it.
func (s *scene) eachWorks(n *int, items ...string) truth {
	if n != nil && *n == 1 {
		return s.works(items...)
	}
	return s.placesServed(n, items...)
}

func (s *scene) placesServed(n *int, items ...string) truth {
	if n == nil {
		return unknown
	}
	return s.shown(items, func(units []unit) truth { return s.eachPlace(*n, units) })
}

// eachPlace says whether each of n places is served. A unit that names no place is taken to serve one that none of those
// that name their places serves; that is sure as long as all of them work.
func (s *scene) eachPlace(n int, units []unit) truth {
	open, abandoned := 0, 0
	for place := 1; place <= n; place++ {
		serves := func(u unit) bool { return slices.Contains(u.Serves, place) }
		if !slices.ContainsFunc(working(units), serves) {
			open++
			if slices.ContainsFunc(units, serves) {
				abandoned++
			}
		}
	}
	loose := slices.DeleteFunc(slices.Clone(units), func(u unit) bool { return len(u.Serves) > 0 })
	switch {
	case open == 0:
		return yes
	case len(working(loose)) < open:
		return s.enough(n, -1, len(units))
	case abandoned == 0 && len(working(loose)) == len(loose):
		return yes
	}
	return unknown
}

// personsServed says whether working units of an item serve so many persons. A unit serves the seats that it names, or
// one. Where each of those persons takes a seat, enough for every seat is enough.
func (s *scene) personsServed(persons *int, seated bool, items ...string) truth {
	units := s.serving(items...)
	if s.standsIn(items) {
		units = allWorking(units)
	}
	serves, onRecord := served(working(units)), served(units)
	switch {
	case persons != nil:
		return s.enough(*persons, serves, onRecord)
	case seated && s.Seats != nil && *s.Seats > 0 && serves >= *s.Seats:
		return yes
	}
	return unknown
}

func served(units []unit) int {
	seats, loose := map[int]bool{}, 0
	for _, u := range units {
		if len(u.Serves) == 0 {
			loose++
		}
		for _, seat := range u.Serves {
			seats[seat] = true
		}
	}
	return len(seats) + loose
}

// inOrder says whether the aircraft has a working unit of an item, as a condition of some rule or relief.
func (s *scene) inOrder(item string) truth {
	units := s.serving(item)
	return s.enough(1, len(working(units)), len(units))
}

// installed are the units of an item that have not been taken out.
func (s *scene) installed(item string) []unit {
	return slices.DeleteFunc(s.serving(item), func(u unit) bool { return u.gone })
}

// fitted says whether the aircraft is equipped with an item.
func (s *scene) fitted(item string) truth {
	return s.enough(1, len(s.installed(item)), len(s.serving(item)))
}

// everyFittedOneWorks says whether all units of an item that are still in the aircraft work.
func (s *scene) everyFittedOneWorks(item string) truth { return s.wholeSystem(s.installed(item)) }
