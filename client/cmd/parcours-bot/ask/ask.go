// Package ask reads what somebody asks the bot, in any order, case and unit of common use:
// "how long for 72 kg at 280 W?", "Morvask, 158 lb 4,1 W/kg indoors", "brief round 3".
package ask

import (
	"errors"
	"fmt"
	"strconv"
	"strings"
	"unicode"

	"golang.org/x/text/unicode/norm"
)

// Kind is what is asked for.
type Kind int

// The kinds of questions.
const (
	// Unclear is what can't be told.
	Unclear Kind = iota
	Help
	Rounds
	Brief
	Picture
	HowLong
)

// Question is a message as it was understood.
type Question struct {
	Kind Kind
	// Round are the words that are left to name a round, apart by single spaces and in lower
	// case; "next" for the next one, "" where none is named.
	Round string
	// RoundNumber is the round's place in the season from 1 where a number names it, else 0.
	RoundNumber int
	// MassKg is the body mass in kg, 0 where none is given.
	MassKg float64
	// PowerW is the power in W, 0 where none is given; WPerKg the power per body mass instead.
	PowerW, WPerKg float64
	// HeightM is the body height in m, 0 where none is given.
	HeightM float64
	// Indoors, Outdoors, Alone and Sheltered are what was said of the ride.
	Indoors, Outdoors, Alone, Sheltered bool
}

// MostRunes is the length of the longest message that is read, in code points.
const MostRunes = 300

// Read reads a message. An error says in a sentence what can't be taken as it stands; the
// question then holds what was understood all the same.
func Read(message string) (Question, error) {
	message = norm.NFKC.String(strings.ToLower(message))
	if len([]rune(message)) > MostRunes {
		return Question{}, fmt.Errorf("that is longer than the %d characters I read", MostRunes)
	}
	r := &reader{words: split(message)}
	for len(r.words) > 0 {
		r.word()
	}
	r.q.Round = strings.Join(r.left, " ")
	r.settle()
	return r.q, errors.Join(r.faults...)
}

// reader takes a message word by word.
type reader struct {
	words []string
	left  []string
	q     Question
	// power, mass and height are set once a value of theirs was taken.
	power, mass, height bool
	faults              []error
}

func (r *reader) fault(format string, values ...any) {
	r.faults = append(r.faults, fmt.Errorf(format, values...))
}

// word takes the next word, or the words that belong together.
func (r *reader) word() {
	w := r.words[0]
	switch {
	case r.ordinal():
	case startsNumber(w):
		r.quantity()
	case kinds[w] != Unclear:
		r.q.Kind = first(r.q.Kind, kinds[w])
		r.words = r.words[1:]
	case r.condition(w):
		r.words = r.words[1:]
	case w == "next" || w == "upcoming":
		r.left = append(r.left, "next")
		r.words = r.words[1:]
	default:
		if !idle[w] {
			r.left = append(r.left, w)
		}
		r.words = r.words[1:]
	}
}

// first returns the kind that was said first: what follows may be a round's name.
func first(said, now Kind) Kind {
	if said != Unclear {
		return said
	}
	return now
}

// ordinal takes "round 3", "#3" and "3rd".
func (r *reader) ordinal() bool {
	w, taken := r.words[0], 1
	if w == "round" || w == "no" || w == "number" || w == "nr" || w == "#" {
		if len(r.words) < 2 {
			r.words = nil // a word without the number that it announces
			return true
		}
		w, taken = r.words[1], 2
	} else if !strings.HasPrefix(w, "#") && !ends(w, "st", "nd", "rd", "th") {
		return false
	}
	n, err := strconv.Atoi(strings.TrimRight(strings.TrimPrefix(w, "#"), "stndrh"))
	if err != nil || n < 1 {
		if taken == 2 { // "round hill" is a name
			r.words = r.words[1:]
			return true
		}
		return false
	}
	if r.q.RoundNumber != 0 && r.q.RoundNumber != n {
		r.fault("you name round %d and round %d: ask for one of them", r.q.RoundNumber, n)
	}
	r.q.RoundNumber = n
	r.words = r.words[taken:]
	return true
}

func ends(w string, endings ...string) bool {
	for _, e := range endings {
		if number, ok := strings.CutSuffix(w, e); ok && number != "" && strings.Trim(number, "0123456789") == "" {
			return true
		}
	}
	return false
}

// condition takes a word on the ride's conditions.
func (r *reader) condition(w string) bool {
	switch w {
	case "indoor", "indoors", "inside", "hall", "trainer", "rollers":
		r.q.Indoors = true
	case "outdoor", "outdoors", "outside", "road":
		r.q.Outdoors = true
	case "alone", "solo", "unsheltered":
		r.q.Alone = true
	case "sheltered", "bunch", "peloton", "drafting", "wheels":
		r.q.Sheltered = true
	default:
		return false
	}
	return true
}

// settle says what was asked, and what contradicts itself.
func (r *reader) settle() {
	if r.q.Kind == Unclear && (r.mass || r.power || r.height) {
		r.q.Kind = HowLong
	}
	if r.q.Indoors && r.q.Outdoors {
		r.fault("you say indoors and outdoors: which of them?")
	}
	if r.q.Alone && r.q.Sheltered {
		r.fault("you say alone and sheltered: which of them?")
	}
}

// split cuts a message into words: at white space and at marks between words, and between a
// number and the unit behind it.
func split(message string) []string {
	message = strings.NewReplacer("’", "'", "′", "'", "″", `"`, "”", `"`, "“", `"`, "−", "-").Replace(message)
	fields := strings.FieldsFunc(message, func(c rune) bool {
		return unicode.IsSpace(c) || strings.ContainsRune("?!;:()[]{}@=*~<>|_", c)
	})
	var words []string
	for _, f := range fields {
		f = strings.Trim(f, `.,-+`)
		if f == "" {
			continue
		}
		if !startsNumber(f) {
			words = append(words, strings.Trim(f, `"'`))
			continue
		}
		words = append(words, parted(f)...)
	}
	return words
}

// parted cuts "72kg" into "72" and "kg", and leaves "5'11" and "3rd" whole.
func parted(f string) []string {
	if ends(f, "st", "nd", "rd", "th") || strings.ContainsAny(f, `'`) {
		return []string{f}
	}
	i := strings.IndexFunc(f, func(c rune) bool { return !unicode.IsDigit(c) && c != '.' && c != ',' })
	if i < 0 {
		return []string{f}
	}
	if unit := f[i:]; unitOf(unit) == noUnit { // a name like 7hills, or two things in one
		if slash := strings.IndexByte(unit, '/'); slash >= 0 && slash+1 < len(unit) && startsNumber(unit[slash+1:]) {
			return append([]string{f[:i], unit[:slash]}, parted(unit[slash+1:])...)
		}
		return []string{f}
	}
	return []string{f[:i], f[i:]}
}

func startsNumber(w string) bool { return w != "" && '0' <= w[0] && w[0] <= '9' }

// kinds are the words that say what is asked for.
var kinds = map[string]Kind{
	"help": Help, "commands": Help,
	"rounds": Rounds, "season": Rounds, "list": Rounds, "calendar": Rounds,
	"brief": Brief, "briefing": Brief, "course": Brief,
	"picture": Picture, "profile": Picture, "image": Picture, "drawing": Picture,
	"long": HowLong, "time": HowLong, "predict": HowLong, "duration": HowLong,
}

// idle are words that say nothing of what is asked.
var idle = wordSet(`a about all am an and are at be bike by can could cyclist do does doing does for from get go give going
	have he her his hold how i if i'd i'll i'm i've in is it it's its kindly lap may me my need needs of on one or our out over please
	post push pushing put race ride rider riders rides riding say says send she should show take takes tell than thanks that
	the their them they this to up us was we weigh weighing weighs what what's when which will with would you your hello hi hey`)

func wordSet(words string) map[string]bool {
	set := map[string]bool{}
	for w := range strings.FieldsSeq(words) {
		set[w] = true
	}
	return set
}
