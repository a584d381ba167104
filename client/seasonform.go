package client

import (
	"bytes"
	"compress/gzip"
	"encoding/json"
	"fmt"
	"io"
	"iter"
	"mime"
	"mime/multipart"
	"net/textproto"
	"os"
	"sync"

	"parcours.example/api/contract"
)

// formChunk is how much of a file is read at a time, in bytes.
const formChunk = 32 << 10

// seasonForm is a form of files that is made as it is read, compressed.
type seasonForm struct {
	mu sync.Mutex
	// nextFile gives the files, until stop.
	nextFile func() (SeasonFile, bool)
	stop     func()
	// form writes to packed, which writes to made, what is still to be read.
	form   *multipart.Writer
	packed *gzip.Writer
	made   bytes.Buffer
	// file is the one that is being sent, into part.
	file io.ReadCloser
	part io.Writer
	of   string
	// ended is whether all is made; err is what went wrong with a file.
	ended bool
	err   error
}

// newSeasonForm begins a form with what is asked in front.
func newSeasonForm(request *contract.SeasonRequest, files iter.Seq[SeasonFile]) (*seasonForm, error) {
	f := &seasonForm{}
	f.packed, _ = gzip.NewWriterLevel(&f.made, gzip.BestSpeed) // a level that there is
	f.form = multipart.NewWriter(f.packed)
	question, err := json.Marshal(contract.SeasonQuestion{
		Riders: request.Riders, Setups: request.Setups, Conditions: request.Conditions, Effort: request.Effort,
		Uncertainties: request.Uncertainties, CoveragePct: request.CoveragePct,
	})
	if err == nil {
		err = f.begin(map[string]string{"name": "request"}, jsonMediaType)
	}
	if err == nil {
		_, err = f.part.Write(question)
	}
	if err != nil {
		return nil, fmt.Errorf("client: the request: %w", err)
	}
	f.nextFile, f.stop = iter.Pull(files)
	return f, nil
}

// payload is the form as a body.
func (f *seasonForm) payload() *payload {
	return &payload{mediaType: f.form.FormDataContentType(), coding: "gzip", once: f}
}

// begin begins a part.
func (f *seasonForm) begin(names map[string]string, mediaType string) (err error) {
	header := textproto.MIMEHeader{"Content-Disposition": {mime.FormatMediaType("form-data", names)}}
	if mediaType != "" {
		header.Set("Content-Type", mediaType)
	}
	f.part, err = f.form.CreatePart(header)
	return err
}

// Read implements io.Reader.
func (f *seasonForm) Read(p []byte) (int, error) {
	f.mu.Lock()
	defer f.mu.Unlock()
	for f.made.Len() == 0 {
		if f.ended {
			return 0, io.EOF
		}
		if f.err == nil {
			f.err = f.more()
		}
		if f.err != nil {
			return 0, f.err
		}
	}
	return f.made.Read(p)
}

// more makes more of the form.
func (f *seasonForm) more() error {
	if f.file != nil {
		return f.copy()
	}
	next, ok := f.nextFile()
	if !ok {
		f.ended = true
		if err := f.form.Close(); err != nil {
			return err
		}
		return f.packed.Close()
	}
	file, err := next.Open()
	if err != nil {
		return fmt.Errorf("client: round %s: %w", next.RoundID, err)
	}
	f.file, f.of = file, next.RoundID
	return f.begin(map[string]string{"name": "file", "filename": next.RoundID}, next.MediaType)
}

// copy makes more of a file; at its end all of it is sent off, so that it can be answered.
func (f *seasonForm) copy() error {
	_, err := io.CopyN(f.part, f.file, formChunk)
	if err == nil {
		return nil
	}
	ended := f.file.Close()
	f.file = nil
	if err != io.EOF { //nolint:errorlint // CopyN's own
		return fmt.Errorf("client: round %s: %w", f.of, err)
	}
	if ended != nil {
		return fmt.Errorf("client: round %s: %w", f.of, ended)
	}
	return f.packed.Flush()
}

// fault is what went wrong with a file; nil for nothing.
func (f *seasonForm) fault() error {
	f.mu.Lock()
	defer f.mu.Unlock()
	return f.err
}

// close ends the form, read to its end or not.
func (f *seasonForm) close() {
	f.mu.Lock()
	defer f.mu.Unlock()
	f.stop()
	if f.file != nil {
		_ = f.file.Close()
		f.file = nil
	}
	if !f.ended && f.err == nil {
		f.err = os.ErrClosed
	}
}
