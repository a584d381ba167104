package trials

import (
	"fmt"
	"math"
	"runtime"
	"strings"
	"time"
)

// A user in the peak minute: one in peakShare of all comes within the minute after the brief
// was posted, and asks so much of each kind. The rest of the week each asks for as many
// answers as stay in Redis for it.
const (
	peakShare      = 0.05
	answersAWeek   = 6.0
	coursesPerUser = 0.002 // new ones a week: one for each 500 users
	// useOfCores is how much of the cores may be in use: what comes at random needs the rest.
	useOfCores = 0.6
)

// asks are calls of a user in the peak minute.
var asks = []struct {
	kind  string
	times float64
}{
	{"page", 20}, {"kept", 1}, {"asked", 1}, {"prediction", 1}, {"picture", 0.05}, {"brief", 0.05}, {"plan", 0.1}, {"scenario", 0.005}, {"medium", 0.001},
}

// capacityPlan writes deploy/CAPACITY.md.
func capacityPlan(costs map[string]cost) string {
	var b strings.Builder
	fmt.Fprintf(&b, `# What a replica costs, and how many users that is enough for

Written by a test, not by hand, on %s with %s, %s/%s. Processor time is that of the service's own process, so it
depends less on what else the machine does than times do; callers and Redis use the same cores.

    PARCOURS_FULL=1 PARCOURS_CAPACITY=../../deploy/CAPACITY.md go test ./service/trials -run TestCapacity -v

## A call

| call | processor time, ms | calls a second on one core | allocated, MB | more memory held, two at a time, MB | sent, kB | in Redis, kB |
| --- | --: | --: | --: | --: | --: | --: |
`, time.Now().UTC().Format("2006-01-02"), runtime.Version(), runtime.GOOS, runtime.GOARCH)
	for _, k := range kinds {
		c := costs[k.name]
		fmt.Fprintf(&b, "| %s | %s | %s | %s | %.0f | %s | %s |\n", k.says, digits(1e3*c.processorS), digits(1/c.processorS), digits(c.allocatedBytes/1e6), c.residentBytes/1e6, digits(c.sentBytes/1e3), digits(c.redisBytes/1e3))
	}
	fmt.Fprintf(&b, `
The memory is that of the whole process and what it keeps of the calls is in it; a new one holds about 60 MB. What is sent is
gzipped. What is in Redis is the mean of the values that the calls left there; 0 where they left none.

## A peak

Assumed: one user in %.0f comes within the minute after a brief was posted, evenly. In that minute each asks for

`, 1/peakShare)
	for _, a := range asks {
		fmt.Fprintf(&b, "- %g × %s\n", a.times, says(a.kind))
	}
	fmt.Fprintf(&b, `
and the cores are in use by %.0f %% at most. In a week each user asks for %s answers that stay in Redis, and for each %.0f users
there is a new course.

| users | in the peak minute | calls a second | cores | replicas of 2 cores, at least 3 | sent, Mbit/s | Redis, GB | Redis, commands a second |
| --: | --: | --: | --: | --: | --: | --: | --: |
`, 100*useOfCores, digits(answersAWeek), 1/coursesPerUser)
	for users := 100.0; users <= 1e6; users *= 10 {
		p := peakOf(users, costs)
		fmt.Fprintf(&b, "| %.0f | %.0f | %s | %s | %.0f | %s | %s | %s |\n", users, users*peakShare, digits(p.calls), digits(p.cores), math.Max(3, math.Ceil(p.cores/2)), digits(p.mbitPerS), digits(p.redisGB), digits(p.commands))
	}
	return b.String()
}

func says(name string) string {
	for _, k := range kinds {
		if k.name == name {
			return k.says
		}
	}
	return name
}

// peak is what a number of users ask for in the peak minute.
type peak struct{ calls, cores, mbitPerS, redisGB, commands float64 }

func peakOf(users float64, costs map[string]cost) peak {
	var p peak
	perSecond := users * peakShare / 60
	for _, a := range asks {
		c := costs[a.kind]
		n := perSecond * a.times
		p.calls += n
		p.cores += n * c.processorS / useOfCores
		p.mbitPerS += n * c.sentBytes * 8 / 1e6
		if c.redisBytes > 0 {
			p.commands += 2 * n // looked for, and written
		}
	}
	p.redisGB = users * (answersAWeek*costs["prediction"].redisBytes + coursesPerUser*costs["medium"].redisBytes) / 1e9
	return p
}

// digits writes two significant digits.
func digits(v float64) string {
	if v == 0 || math.IsInf(v, 0) {
		return "0"
	}
	unit := math.Pow(10, math.Floor(math.Log10(math.Abs(v)))-1)
	return fmt.Sprintf("%.*f", max(0, int(-math.Log10(unit)+0.5)), math.Round(v/unit)*unit)
}
