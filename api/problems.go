package api

import (
	"encoding/json"
	"net/http"
	"strconv"

	"github.com/gin-gonic/gin"

	"parcours.example/api/contract"
	"parcours.example/service/engine"
)

// problemMediaType is RFC 9457's.
const problemMediaType = "application/problem+json"

// problemKind is a reason for which a request fails. Its name is the last segment
// of the problem's type, and stable.
type problemKind struct {
	name   string
	status int
	title  string
	// explanation and remedy are sentences for the kind's page.
	explanation, remedy string
}

// The kinds of problems, in the order of their page in the reference.
var (
	kindMalformedRequest = problemKind{
		"malformed-request", http.StatusBadRequest, "The request can't be read",
		"The request's syntax is wrong: its JSON breaks off, names a field twice, nests too deeply or goes on after its end, or its coding is damaged.",
		"Correct the body at the place that `errors` names and send it again.",
	}
	kindInvalidRequest = problemKind{
		"invalid-request", http.StatusBadRequest, "The request doesn't fit the contract",
		"A field, a parameter or a header is unknown, missing, of the wrong type or out of its range.",
		"Compare each entry of `errors` with the reference and correct it.",
	}
	kindNotTheFormat = problemKind{
		"not-the-format", http.StatusBadRequest, "The file isn't of the named format, or of none that is read here",
		"The bytes are not of the format that the media type names, or of none that is read here; `detail` says what they look like.",
		"Send the right media type, or leave it out: the format is then recognised from the bytes.",
	}
	kindMalformedFile = problemKind{
		"malformed-file", http.StatusBadRequest, "The file is damaged",
		"The file is of the right format, but breaks off or is broken at the place that `line` and `point` give.",
		"Export the file again, or mend it at that place.",
	}
	kindKeyRequired = problemKind{
		"key-required", http.StatusUnauthorized, "A key is needed",
		"Whoever runs this service lets in those alone who send a key that it knows.",
		"Send the key as `Authorization: Bearer KEY`, in one field, never in the address; ask whoever runs the service for one.",
	}
	kindNotFound = problemKind{
		"not-found", http.StatusNotFound, "There is no such resource",
		"Nothing answers at this address.",
		"See the reference at /docs for what there is.",
	}
	kindCourseNotCached = problemKind{
		"course-not-cached", http.StatusNotFound, "The course has left the cache",
		"Courses are kept for a while only.",
		"Send the course's file again; the same file and options give the same course_id.",
	}
	kindJobNotFound = problemKind{
		"job-not-found", http.StatusNotFound, "There is no such job",
		"No job of this id is kept for this caller: there never was one, it is forgotten, or it is somebody else's.",
		"Send the request again; fetch what it comes to before `expires`, with the key that sent it.",
	}
	kindMethodNotAllowed = problemKind{
		"method-not-allowed", http.StatusMethodNotAllowed, "This method isn't allowed here",
		"The address exists, but not with this method.",
		"Use one of the methods in the Allow field.",
	}
	kindNotAcceptable = problemKind{
		"not-acceptable", http.StatusNotAcceptable, "None of the accepted media types can be given",
		"The Accept field names no media type that this call can answer with.",
		"Ask for one of the media types that the reference lists for the call.",
	}
	kindTooSlow = problemKind{
		"too-slow", http.StatusRequestTimeout, "The body comes too slowly",
		"Too little of the body came in the time that a part of it may take, or all of it took too long.",
		"Send it again over a better line, or compressed.",
	}
	kindTooLarge = problemKind{
		"too-large", http.StatusRequestEntityTooLarge, "The body is too large",
		"The body, or the body once decoded, has more bytes than `limit`.",
		"Send fewer points: one point every 5 to 10 m is ample.",
	}
	kindUnsupportedMediaType = problemKind{
		"unsupported-media-type", http.StatusUnsupportedMediaType, "The body's media type isn't supported",
		"The body is of no format that this call reads.",
		"Send one of the media types in the Accept field.",
	}
	kindUnsupportedCoding = problemKind{
		"unsupported-coding", http.StatusUnsupportedMediaType, "The body's coding isn't supported",
		"Content-Encoding names a coding that isn't known here.",
		"Send one of the codings in the Accept-Encoding field, or none.",
	}
	kindTooMany = problemKind{
		"too-many", http.StatusUnprocessableEntity, "There are too many of something",
		"A count is above its limit: `limit` and `actual` give both.",
		"Send fewer, or split the request.",
	}
	kindValueOutOfRange = problemKind{
		"value-out-of-range", http.StatusUnprocessableEntity, "A value in the file is out of range",
		"A point's position is missing, not a number, or not on Earth.",
		"Mend the point that `line` and `point` name.",
	}
	kindNoLine = problemKind{
		"no-line", http.StatusUnprocessableEntity, "The file holds no line to ride",
		"The file can be read, but holds no track or route of two or more distinct points.",
		"Export the course as a track.",
	}
	kindNoSuchTrack = problemKind{
		"no-such-track", http.StatusUnprocessableEntity, "The file hasn't got that track",
		"The parameter `track` counts further than the file goes.",
		"Leave the parameter out, or choose one of the file's tracks.",
	}
	kindTooShort = problemKind{
		"too-short", http.StatusUnprocessableEntity, "The course would have no length",
		"A course needs two points at different places, also after `start_m` and `end_m` have cut it.",
		"Send the whole line, or cut less of it off.",
	}
	kindTooLong = problemKind{
		"too-long", http.StatusUnprocessableEntity, "The course would be too long",
		"All its laps together, the course would be longer than `limit` metres.",
		"Check the file for points far away, and the number of laps: `laps` counts all of them, of a file that holds one.",
	}
	kindTooManyNodes = problemKind{
		"too-many-nodes", http.StatusUnprocessableEntity, "The course would have too many samples",
		"All its laps or parts together, the course would have more than `limit` samples.",
		"Ask for a larger `spacing_m`, for smoothing, or for fewer laps or repeats.",
	}
	kindAxisNotIncreasing = problemKind{
		"axis-not-increasing", http.StatusUnprocessableEntity, "The distances don't increase",
		"In a table of distance and elevation each distance must be greater than the one before.",
		"Sort the rows by distance and leave out those that repeat one.",
	}
	kindLapsDoNotClose = problemKind{
		"laps-do-not-close", http.StatusUnprocessableEntity, "What is to be ridden as laps isn't closed",
		"A lap must end where it starts. Its ends are `actual` metres apart, on the ground or in elevation, as `detail` says; up to `limit` is mended.",
		"Send the file of one whole lap, cut the file to one with `start_m` and `end_m`, or assemble lead-in, lap and run-out at /v1/courses/assemble.",
	}
	kindCutOutside = problemKind{
		"cut-outside", http.StatusUnprocessableEntity, "The cut is beyond the course's end",
		"A start or an end to cut at is at `actual` metres, but the course ends at `limit`.",
		"Read the positions off the answer without the cut, after `reverse`.",
	}
	kindMarkOutside = problemKind{
		"mark-outside", http.StatusUnprocessableEntity, "A mark is beyond the course's end",
		"A mark's `at_m` is `actual`, but the course ends at `limit` metres.",
		"Give positions on the course as it is answered, with all its laps and cuts; or the mark's latitude and longitude.",
	}
	kindPartsDoNotJoin = problemKind{
		"parts-do-not-join", http.StatusUnprocessableEntity, "The parts don't join",
		"A part starts `actual` metres from where the part before ends, or a part that is repeated ends so far from its start; on the ground or in elevation, as `detail` says. Up to `limit` is mended.",
		"Check the order of the parts, their `reverse`, and where `from_m` and `to_m` cut them; or put the road between them in as a part.",
	}
	kindNotComputable = problemKind{
		"not-computable", http.StatusUnprocessableEntity, "The request can't be computed",
		"The request fits the contract, but parts of it contradict each other or something that it needs is missing; `errors` says what.",
		"Correct each entry of `errors`.",
	}
	kindCannotClimb = problemKind{
		"cannot-climb", http.StatusUnprocessableEntity, "The rider can't get up there",
		"At the asked power the speed falls below 0.5 m/s at `at_m`.",
		"Ask for more power there, or for a lighter or better geared set-up; check the profile at that place.",
	}
	kindCapabilityUndetermined = problemKind{
		"capability-undetermined", http.StatusUnprocessableEntity, "The efforts determine no critical power",
		"None of the models fits these efforts; `errors` says of each kind of fit why. Most often there is one duration only, or a longer effort has as much power as a shorter one.",
		"Give maximal efforts of three or more durations from 2 to 15 min, the longest at least twice the shortest, and leave out those that weren't maximal; check that durations are in seconds and powers in watts.",
	}
	kindNotARecording = problemKind{
		"not-a-recording", http.StatusUnprocessableEntity, "The file is no recording of a ride",
		"The file can be read, but holds no ride: too few samples, or none with a time, as a course has them.",
		"Export the recording of the ride itself, as FIT, TCX or GPX with times, and trim less of its start and end.",
	}
	kindNotOnCourse = problemKind{
		"not-on-course", http.StatusUnprocessableEntity, "The ride isn't on the course",
		"What was recorded lies elsewhere, or goes round the course the other way; `detail` says how far off it is.",
		"Send the recording of this course, the course with the right options (laps, reverse), or leave the course out to take it from the recording.",
	}
	kindTooLittleRiding = problemKind{
		"too-little-riding", http.StatusUnprocessableEntity, "Too little of the ride can be learnt from",
		"After bends, brakes, stops, gaps and stretches without power were left out, too little is left to tell a drag area from.",
		"Send a longer ride with power, or several rides of the same rider on the same set-up.",
	}
	kindQuotaExceeded = problemKind{
		"quota-exceeded", http.StatusTooManyRequests, "The quota is used up",
		"More was asked than the caller's quota for a minute or a day holds; `RateLimit-Policy` says what it is, `RateLimit` what is left of it.",
		"Wait for as many seconds as Retry-After says. What was answered once needn't be asked again: send its `ETag` as If-None-Match, or keep it.",
	}
	kindBusy = problemKind{
		"busy", http.StatusServiceUnavailable, "The service is busy",
		"More work is waiting than can be done soon, or the service is stopping.",
		"Wait for as many seconds as Retry-After says and send the request again.",
	}
	kindJobsAway = problemKind{
		"jobs-away", http.StatusServiceUnavailable, "Jobs can't be reached",
		"What keeps the jobs doesn't answer just now. Jobs that were accepted aren't lost by that.",
		"Wait for as many seconds as Retry-After says and ask again; or send the request without `Prefer: respond-async`, and it is answered at once.",
	}
	kindInternal = problemKind{
		"internal", http.StatusInternalServerError, "Something went wrong here",
		"The fault is ours, not the request's.",
		"Report the request_id; sending the same again will hardly help.",
	}
)

// problemKinds lists every kind there is.
func problemKinds() []problemKind {
	return []problemKind{
		kindMalformedRequest, kindInvalidRequest, kindNotTheFormat, kindMalformedFile, kindKeyRequired, kindNotFound,
		kindCourseNotCached, kindJobNotFound, kindMethodNotAllowed, kindNotAcceptable, kindTooSlow, kindTooLarge, kindUnsupportedMediaType,
		kindUnsupportedCoding, kindTooMany, kindValueOutOfRange, kindNoLine, kindNoSuchTrack,
		kindTooShort, kindTooLong, kindTooManyNodes, kindAxisNotIncreasing, kindLapsDoNotClose, kindCutOutside, kindMarkOutside, kindPartsDoNotJoin,
		kindNotComputable, kindCannotClimb, kindCapabilityUndetermined, kindNotARecording, kindNotOnCourse, kindTooLittleRiding, kindQuotaExceeded, kindBusy, kindJobsAway, kindInternal,
	}
}

// typeURI is where the kind is explained.
func (k problemKind) typeURI() string { return "/problems/" + k.name }

// problem is a failed request on its way to the caller. It is an error so that it
// can be returned through ordinary code.
type problem struct {
	kind          problemKind
	detail        string
	faults        []contract.Fault
	limit, actual *float64
	atM           *float64
	line, point   int
	// retryAfterS is sent as Retry-After where above 0.
	retryAfterS int
	// header holds further header fields.
	header map[string]string
}

// Error implements error.
func (p *problem) Error() string { return p.kind.name + ": " + p.detail }

// document is the problem as the contract has it.
func (p *problem) document(requestID string) contract.Problem {
	doc := contract.Problem{
		Type: p.kind.typeURI(), Title: p.kind.title, Status: p.kind.status,
		Detail: optional(p.detail), RequestID: optional(requestID),
		Limit: p.limit, Actual: p.actual, AtM: p.atM, Line: optional(p.line), Point: optional(p.point),
	}
	if len(p.faults) > 0 {
		faults := p.faults[:min(len(p.faults), engine.MostFaults)]
		doc.Errors = &faults
		doc.ErrorsTruncated = optional(len(p.faults) > engine.MostFaults)
	}
	return doc
}

// writeProblem answers a request with a problem and stops its chain.
func writeProblem(c *gin.Context, p *problem) {
	for name, value := range p.header {
		c.Header(name, value)
	}
	if p.retryAfterS > 0 {
		c.Header("Retry-After", strconv.Itoa(p.retryAfterS))
	}
	c.Header("Cache-Control", "no-store")
	for _, field := range []string{"ETag", "Content-Encoding", "Content-Length"} { // of a reply that came to nothing
		c.Writer.Header().Del(field)
	}
	c.Abort()
	body, err := json.Marshal(p.document(requestID(c)))
	if err != nil { // a Problem holds nothing that can't be encoded
		c.Status(http.StatusInternalServerError)
		return
	}
	c.Data(p.kind.status, problemMediaType, append(body, '\n'))
}

// optional returns a pointer to v, nil for the zero value.
func optional[T comparable](v T) *T {
	var zero T
	if v == zero {
		return nil
	}
	return &v
}
