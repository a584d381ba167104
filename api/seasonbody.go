package api

import (
	"bufio"
	"context"
	"crypto/sha256"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"mime"
	"mime/multipart"
	"net/http"
	"time"

	"github.com/gin-gonic/gin"

	"parcours.example/analysis/course"
	. "parcours.example/api/contract" //nolint:revive // generated code does the same
	"parcours.example/service/engine"
)

// sentFile is a route file of a season's body.
type sentFile struct {
	name, mediaType string
	content         []byte
	// err is why it can't be taken.
	err error
	// claim holds the content's memory; nil where there is none.
	claim *engine.Claim
}

// files gives the files of a body one after the other, and io.EOF behind the last. Any other
// error is one of the body, behind which nothing can be read.
type files interface {
	next() (sentFile, error)
}

// seasonOfFiles begins to read a season of files.
func (s *server) seasonOfFiles(c *gin.Context, params CompareSeasonParams) (*askedSeason, nextRound, func(), error) {
	options := course.Defaults()
	if params.Smoothing != nil {
		options.Smoothing = course.Smoothing(*params.Smoothing)
	}
	control := http.NewResponseController(c.Writer)
	_ = control.EnableFullDuplex() // what can't has it anyway, or is a test's
	// net/http reads what is left of such a body when all is answered, begins there to watch for the
	// caller's leaving, and ends the next request of the connection with that watch.
	c.Header("Connection", "close")
	body, leave, err := s.seasonBody(c)
	if err != nil {
		return nil, nil, nil, bodyError{err}
	}
	opened, question, err := s.openFiles(c, body)
	var asked *askedSeason
	if err == nil {
		asked, err = s.askSeason(question)
	}
	if err == nil {
		err = s.engine.CheckSeason(asked.ride, 1)
	}
	if err != nil {
		leave()
		return nil, nil, nil, err
	}
	reader := &fileRounds{asked: asked, files: opened, options: options, skipped: &body.skipped}
	next := func(ctx context.Context) (engine.RoundTask, error) {
		if reader.stop == nil { // a season that ends doesn't wait for more of the body
			reader.stop = context.AfterFunc(ctx, func() { _ = control.SetReadDeadline(time.Unix(1, 0)) })
		}
		task, err := reader.next()
		if err != nil {
			reader.stop() // nothing is read any more, and the connection goes on
		}
		return task, err
	}
	return asked, next, leave, nil
}

// seasonBody is the body of a season of files as it is decoded.
type seasonBody struct {
	*bufio.Reader
	server *server
	// skipped counts the entries of archives that were passed over, entries all of them.
	skipped, entries int
	// unpacked is how many bytes came of archives in it.
	unpacked int
}

// seasonBody decodes the codings of a body as it comes.
func (s *server) seasonBody(c *gin.Context) (*seasonBody, func(), error) {
	most := int64(s.engine.SeasonBytes())
	if c.Request.ContentLength > most {
		return nil, nil, seasonTooLarge(most)
	}
	decoded, leave, err := decodedBody(s.engine.SentSeason(http.MaxBytesReader(c.Writer, c.Request.Body, most)), c.Request.Header.Values("Content-Encoding"))
	if err != nil {
		return nil, nil, err
	}
	return &seasonBody{Reader: bufio.NewReader(decoded), server: s}, leave, nil
}

// seasonTooLarge is the problem of a season that is too large.
func seasonTooLarge(most int64) *problem {
	limit := float64(most)
	return &problem{kind: kindTooLarge, limit: &limit, detail: fmt.Sprintf("The season, or what it unpacks to, is larger than %d bytes; send it in parts.", most)}
}

// openFiles begins to read a body by its media type, with what is asked in front.
func (s *server) openFiles(c *gin.Context, body *seasonBody) (files, SeasonQuestion, error) {
	kind, parameters, err := mime.ParseMediaType(c.GetHeader("Content-Type"))
	if err != nil || kind != formMediaType {
		opened, err := body.archive()
		return opened, SeasonQuestion{}, err
	}
	if parameters["boundary"] == "" {
		return nil, SeasonQuestion{}, &problem{kind: kindMalformedRequest, detail: "The form's media type names no boundary."}
	}
	form := &formFiles{body: body, parts: multipart.NewReader(body, parameters["boundary"])}
	question, err := form.question()
	return form, question, err
}

// formMediaType is that of a form with files.
const formMediaType = "multipart/form-data"

// readFile reads a file whole. One that is too large is passed over, and its error told.
func (b *seasonBody) readFile(f sentFile, from io.Reader) (sentFile, error) {
	f.claim = b.server.engine.Claim()
	var err error
	f.content, err = io.ReadAll(f.claim.Reader(io.LimitReader(from, engine.MostBodyBytes+1)))
	var busy *engine.BusyError
	switch {
	case errors.As(err, &busy):
		f.err = busy
	case err != nil:
		f.release()
		return f, err
	case len(f.content) > engine.MostBodyBytes:
		f.err = bodyTooLarge()
	default:
		return f, nil
	}
	f.release()
	_, err = io.Copy(io.Discard, from)
	return f, err
}

// release gives the file's memory back.
func (f *sentFile) release() {
	if f.claim != nil {
		f.claim.Release()
	}
	f.content, f.claim = nil, nil
}

// fileRounds makes rounds of files.
type fileRounds struct {
	asked   *askedSeason
	files   files
	options course.Options
	// skipped is how many entries of archives were passed over.
	skipped *int
	rounds  int
	stop    func() bool
}

// next returns the next round. It fails with io.EOF, or what ends the season.
func (r *fileRounds) next() (engine.RoundTask, error) {
	f, err := r.files.next()
	r.asked.skipped = *r.skipped
	switch {
	case errors.Is(err, io.EOF) && r.rounds == 0:
		return engine.RoundTask{}, &problem{kind: kindNotComputable, detail: "There is no file in this body; send one for each round."}
	case errors.Is(err, io.EOF):
		return engine.RoundTask{}, io.EOF
	case err != nil:
		return engine.RoundTask{}, bodyError{err}
	}
	r.rounds++
	if err := r.asked.server.engine.CheckSeason(r.asked.ride, r.rounds); err != nil {
		f.release()
		return engine.RoundTask{}, err
	}
	return r.task(f), nil
}

// task is that of a file.
func (r *fileRounds) task(f sentFile) engine.RoundTask {
	if f.err != nil {
		return engine.RoundTask{RoundID: f.name, Err: f.err}
	}
	digest := sha256.Sum256(f.content)
	form, _ := json.Marshal([]string{f.mediaType, string(r.options.Smoothing)}) // strings can be encoded
	task := r.asked.task(engine.CourseSource{
		File: &engine.File{MediaType: f.mediaType, Content: f.content}, Options: engine.CourseOptions{Options: r.options},
	}, "file", append(form, digest[:]...))
	task.RoundID, task.Release = f.name, f.release
	return task
}

// formFiles are those of a form.
type formFiles struct {
	body  *seasonBody
	parts *multipart.Reader
	// first is a part that was opened already, archive what is read of one.
	first   *multipart.Part
	archive files
}

// question reads what is asked, where it stands in front.
func (f *formFiles) question() (SeasonQuestion, error) {
	var question SeasonQuestion
	part, err := f.parts.NextPart()
	switch {
	case errors.Is(err, io.EOF):
		return question, nil
	case err != nil:
		return question, bodyError{err}
	case part.FormName() != "request":
		f.first = part
		return question, nil
	}
	body, err := io.ReadAll(io.LimitReader(part, engine.MostBodyBytes+1))
	switch {
	case err != nil:
		return question, bodyError{err}
	case len(body) > engine.MostBodyBytes:
		return question, bodyTooLarge()
	}
	if p := f.body.server.questions.check(body); p != nil {
		return question, p
	}
	return question, decodeJSON(body, &question)
}

// next implements files.
func (f *formFiles) next() (sentFile, error) {
	for {
		if f.archive != nil {
			file, err := f.archive.next()
			if !errors.Is(err, io.EOF) {
				return file, err
			}
			f.archive = nil
		}
		part, err := f.nextPart()
		if err != nil {
			return sentFile{}, err
		}
		name := partName(part)
		if part.FormName() != "file" {
			return sentFile{}, invalidForm(part.FormName())
		}
		kind, _, _ := mime.ParseMediaType(part.Header.Get("Content-Type"))
		file, err := f.body.readFile(sentFile{name: name, mediaType: kind}, part)
		if err != nil {
			return sentFile{}, err
		}
		if f.archive = f.body.archived(file); f.archive == nil {
			return file, nil
		}
	}
}

// partName is the name that a part gives its file: all of it, as it is no place to write to.
func partName(part *multipart.Part) string {
	_, parameters, _ := mime.ParseMediaType(part.Header.Get("Content-Disposition"))
	return shownName(parameters["filename"])
}

// nextPart returns the next part.
func (f *formFiles) nextPart() (*multipart.Part, error) {
	if part := f.first; part != nil {
		f.first = nil
		return part, nil
	}
	return f.parts.NextPart()
}

// invalidForm is the problem of a part that the form doesn't have, or has in front alone.
func invalidForm(name string) *problem {
	detail := "the form has no such part"
	if name == "request" {
		detail = "the request comes once, before the files"
	}
	return invalidField("#/"+clip(name), "not-allowed", detail)
}
