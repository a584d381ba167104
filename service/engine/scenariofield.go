package engine

import (
	"cmp"
	"fmt"
	"slices"

	"parcours.example/analysis/ride"
	"parcours.example/internal/shortform"
)

// enlist makes the field: the given riders, then the drawn ones, all with names that
// differ, each on a set-up.
func (s *scenario) enlist() error {
	count := len(s.asked.Riders)
	for _, g := range s.asked.Drawn {
		count += g.Count
	}
	switch {
	case count == 0:
		return &Error{Code: CodeNotComputable, Pointer: "#/riders", Detail: "Give one rider at least, or a group to draw riders from."}
	case count > MostRiders:
		return tooMany("#/drawn", "riders", MostRiders, count)
	}
	s.field = make([]Contender, 0, count)
	for i, c := range s.asked.Riders {
		c.Name = cmp.Or(c.Name, fmt.Sprintf("Rider %d", i+1))
		c.pointer = fmt.Sprintf("#/riders/%d", i)
		s.field = append(s.field, c)
	}
	for i, g := range s.asked.Drawn {
		drawn, err := s.draw(g, fmt.Sprintf("#/drawn/%d", i))
		if err != nil {
			return err
		}
		s.field = append(s.field, drawn...)
	}
	for _, c := range s.field {
		if c.MaxPowerW < c.CriticalPowerW {
			return &Error{
				Code: CodeNotComputable, Pointer: c.pointer,
				Detail: fmt.Sprintf("The maximal power of %s, %v W, is below the critical power, %v W.", shortform.Clip(c.Name), c.MaxPowerW, c.CriticalPowerW),
			}
		}
	}
	if err := s.nameAll(); err != nil {
		return err
	}
	s.team()
	return s.mountAll()
}

// team numbers the teams by their names.
func (s *scenario) team() {
	for _, c := range s.field {
		if c.Team != "" {
			s.teams = append(s.teams, c.Team)
		}
	}
	slices.Sort(s.teams)
	s.teams = slices.Compact(s.teams)
	for _, c := range s.field {
		number, known := slices.BinarySearch(s.teams, c.Team)
		if !known {
			number = -1
		}
		s.teamOf = append(s.teamOf, number)
	}
}

// nameAll lists who is who, and demands that names differ.
func (s *scenario) nameAll() error {
	s.byName = make(map[string]int, len(s.field))
	for i, c := range s.field {
		if other, taken := s.byName[c.Name]; taken {
			return &Error{
				Code: CodeNotComputable, Pointer: c.pointer + "/name",
				Detail: fmt.Sprintf("Riders %d and %d are both named %q; give names that differ, because orders and luck go by them.", other+1, i+1, shortform.Clip(c.Name)),
			}
		}
		s.byName[c.Name] = i
	}
	return nil
}

// mountAll finds everybody's set-up.
func (s *scenario) mountAll() error {
	s.setups = slices.Clone(s.asked.Setups)
	if len(s.setups) == 0 {
		s.setups = []ride.Setup{unstatedSetup()}
		s.setups[0].Name = defaultSetupName
	}
	byName := make(map[string]int, len(s.setups))
	for k := range s.setups {
		s.setups[k].Name = cmp.Or(s.setups[k].Name, fmt.Sprintf("Set-up %d", k+1))
		if other, taken := byName[s.setups[k].Name]; taken {
			return &Error{
				Code: CodeNotComputable, Pointer: fmt.Sprintf("#/setups/%d/name", k),
				Detail: fmt.Sprintf("Set-ups %d and %d are both named %q; give names that differ, because riders refer to them.", other+1, k+1, shortform.Clip(s.setups[k].Name)),
			}
		}
		byName[s.setups[k].Name] = k
	}
	s.setupOf = make([]int, len(s.field))
	for i := range s.field {
		c := &s.field[i]
		c.Setup = cmp.Or(c.Setup, s.setups[0].Name)
		k, known := byName[c.Setup]
		if !known {
			return &Error{Code: CodeNotComputable, Pointer: c.pointer + "/setup", Detail: fmt.Sprintf("There is no set-up named %q.", shortform.Clip(c.Setup))}
		}
		s.setupOf[i] = k
	}
	return nil
}
