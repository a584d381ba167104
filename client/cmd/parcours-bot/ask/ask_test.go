package ask

import (
	"fmt"
	"math"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
	"pgregory.net/rapid"
)

func TestRead(t *testing.T) {
	for message, want := range map[string]Question{
		"how long for 72 kg at 280 W?":                      {Kind: HowLong, MassKg: 72, PowerW: 280},
		"How long will it take me at 280W and 72kg":         {Kind: HowLong, MassKg: 72, PowerW: 280},
		"280 watts, 72,5 kilos, indoors":                    {Kind: HowLong, MassKg: 72.5, PowerW: 280, Indoors: true},
		"158 lb 4,1 W/kg":                                   {Kind: HowLong, MassKg: 71.6676, WPerKg: 4.1},
		"HOW LONG FOR 72KG/280W ON MORVASK":                 {Kind: HowLong, MassKg: 72, PowerW: 280, Round: "morvask"},
		"what time for a 61.2 kg rider at 3.9 watts per kg": {Kind: HowLong, MassKg: 61.2, WPerKg: 3.9},
		"morvask wall: 72 kg, 1.85 m, 280 W, sheltered":     {Kind: HowLong, MassKg: 72, HeightM: 1.85, PowerW: 280, Sheltered: true, Round: "morvask wall"},
		"72 kg 185 cm 280 w alone round 3":                  {Kind: HowLong, MassKg: 72, HeightM: 1.85, PowerW: 280, Alone: true, RoundNumber: 3},
		"11 st 4 lb, 5'11, 280 W":                           {Kind: HowLong, MassKg: 158 * kgPerPound, HeightM: 71 * mPerInch, PowerW: 280},
		"11 stone and 5 ft 11 in tall at 280 W for #2":      {Kind: HowLong, MassKg: 154 * kgPerPound, HeightM: 71 * mPerInch, PowerW: 280, RoundNumber: 2, Round: "tall"},
		"1,8 w/lb 70 kg on the 2nd":                         {Kind: HowLong, MassKg: 70, WPerKg: 1.8 / kgPerPound, RoundNumber: 2},
		"brief":                                             {Kind: Brief},
		"Brief next, please!":                               {Kind: Brief, Round: "next"},
		"please send the brief of the Hoskerrow eight":      {Kind: Brief, Round: "hoskerrow eight"},
		"picture round 4":                                   {Kind: Picture, RoundNumber: 4},
		"profile of 7hills":                                 {Kind: Picture, Round: "7hills"},
		"brief Skarnholt time trial":                        {Kind: Brief, Round: "skarnholt trial"},
		"rounds?":                                           {Kind: Rounds},
		"help":                                              {Kind: Help},
		"":                                                  {},
		"good morning":                                      {Round: "good morning"},
		"how long":                                          {Kind: HowLong},
		"how long for ７２ kg at ２８０ W?":                      {Kind: HowLong, MassKg: 72, PowerW: 280},
	} {
		got, err := Read(message)
		if err != nil {
			t.Errorf("%q: %v", message, err)
		}
		if diff := cmp.Diff(want, got, cmpopts.EquateApprox(1e-5, 0)); diff != "" {
			t.Errorf("%q (-want +got):\n%s", message, diff)
		}
	}
}

func TestWhatCantBeTaken(t *testing.T) {
	for message, want := range map[string]string{
		"how long for 72 at 280?":                 "I can't tell what 72 counts: write kg or lb behind a mass, W or W/kg behind a power",
		"72 kg and 80 kg at 280 W":                "you give two masses, 72 and 80 kg: ask for one rider at a time",
		"72 kg at 280 W or 300 W":                 "you give two powers: ask for one at a time",
		"72 kg at 1,280 W":                        "1,280 may be a decimal or thousands: write it without a comma",
		"720 kg at 280 W":                         "a body mass of 720 kg is not from 20 to 250 kg",
		"72 kg at 9000 W":                         "a power of 9000 W is not from 1 to 4000 W",
		"72 kg at 280 W/kg":                       "280 W/kg is not from 0.1 to 40 W/kg",
		"72 kg 3.2 m 280 W":                       "a body height of 3.2 m is not from 1 to 2.5 m",
		"72 kg 280 W indoors and outdoors":        "you say indoors and outdoors: which of them?",
		"72 kg 280 W alone and sheltered":         "you say alone and sheltered: which of them?",
		"brief round 3 and round 4":               "you name round 3 and round 4: ask for one of them",
		"how long 1.2.3 kg":                       "1.2.3 is not a number I can read",
		strings.Repeat("how long ", 40) + "72 kg": "that is longer than the 300 characters I read",
	} {
		if _, err := Read(message); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v, want %s", message, err, want)
		}
	}
}

// A rider is the same rider in any unit, order, case and decimal mark.
func TestUnitsAndOrdersAgree(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		kg, m := rapid.Float64Range(30, 200).Draw(t, "kg"), rapid.Float64Range(1.2, 2.2).Draw(t, "m")
		w := kg * rapid.Float64Range(1, 18).Draw(t, "w/kg")
		mass := rapid.SampledFrom([]string{
			fmt.Sprintf("%.3f kg", kg), fmt.Sprintf("%.3fkilos", kg), fmt.Sprintf("%.3f lb", kg/kgPerPound), fmt.Sprintf("%.3f Stone", kg/kgPerPound/poundsPerStone),
		}).Draw(t, "mass")
		power := rapid.SampledFrom([]string{
			fmt.Sprintf("%.2f W", w), fmt.Sprintf("%.2fwatts", w), fmt.Sprintf("%.5f W/kg", w/kg), fmt.Sprintf("%.5f watts per lb", w/kg*kgPerPound),
		}).Draw(t, "power")
		height := rapid.SampledFrom([]string{fmt.Sprintf("%.4f m", m), fmt.Sprintf("%.2fCM", m*100), fmt.Sprintf("%.2f inches", m/mPerInch)}).Draw(t, "height")
		said := []string{mass, power, height, "how long?", "indoors"}
		if rapid.Bool().Draw(t, "comma") {
			for i := range 3 {
				whole, part, _ := strings.Cut(said[i], ".")
				digits := strings.IndexFunc(part, func(c rune) bool { return c < '0' || c > '9' })
				if digits != 3 { // which would be thousands
					said[i] = whole + "," + part
				}
			}
		}
		message := strings.Join(rapid.Permutation(said).Draw(t, "order"), " ")
		q, err := Read(message)
		if err != nil {
			t.Fatalf("%q: %v", message, err)
		}
		got := q.PowerW + q.WPerKg*q.MassKg
		if q.Kind != HowLong || !q.Indoors || math.Abs(q.MassKg-kg) > 0.01 || math.Abs(got-w) > 0.2 || math.Abs(q.HeightM-m) > 1e-3 {
			t.Fatalf("%q is read as %+v", message, q)
		}
	})
}

func FuzzRead(f *testing.F) {
	for _, s := range []string{"how long for 72 kg at 280 W?", "5'11 11 st 4 lb 1,8 w/lb", "brief round 3", "#3 3rd 72kg/280W", "72,5kg. (280w)", "no. 5"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, message string) {
		q, _ := Read(message)
		if q.MassKg != 0 && !within(q.MassKg, leastMassKg, mostMassKg) || q.PowerW != 0 && !within(q.PowerW, leastPowerW, mostPowerW) ||
			q.HeightM != 0 && !within(q.HeightM, leastHeightM, mostHeightM) || q.WPerKg != 0 && !within(q.WPerKg, leastWPerKg, mostWPerKg) {
			t.Fatalf("%q: out of range: %+v", message, q)
		}
		if utf8.RuneCountInString(q.Round) > 2*MostRunes || q.RoundNumber < 0 {
			t.Fatalf("%q: a round of %+v", message, q)
		}
	})
}
