package upkeep

import "tiedown/internal/airworthiness"

// Judged is the demand as the determination judges it: by the record as it stands, without the flights that are planned.
func (d *Demand) Judged() airworthiness.UpkeepItem {
	due, limits := d.Due(), d.limits()
	item := airworthiness.UpkeepItem{
		ID: d.ID, Kind: d.Kind.String(), What: d.What, Citation: d.Citation, Over: d.over(),
		InDays: limits.Through.Known, InHours: limits.Hours.Known, InCycles: limits.Cycles.Known,
		Through: due.Through, HoursLeft: until(due.Hours, d.Record.Now.Hours), CyclesLeft: until(due.Cycles, d.Record.Now.Cycles),
	}
	for _, w := range d.Record.Work {
		if w.On.Known && w.On.Value >= item.Done.Value {
			item.Done = w.On
		}
	}
	return item
}
