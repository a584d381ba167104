package main

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"hash"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strconv"
	"time"

	"parcours.example/api/contract"
	"parcours.example/client/roster"
	"parcours.example/client/routes"
)

// inputs are the files that say what is asked.
type inputs struct {
	// folder holds the route files, riders is the roster, question, which may be "", what else is
	// asked of each round.
	folder, riders, question string
	// now is the time.
	now func() time.Time
	// hashed are the digests of route files, by their names, so that only what changed is read.
	hashed map[string]hashedFile
}

// hashedFile is a route file as it was when it was read.
type hashedFile struct {
	size     int64
	modified time.Time
	sum      [sha256.Size]byte
}

// asking is what is asked of a season.
type asking struct {
	// digest changes when a byte of any input does, or the name of a file.
	digest string
	// names are those of the route files, with slashes, from the folder on, in order.
	names   []string
	request *contract.SeasonRequest
}

// mostQuestionBytes bounds the question's file, mostRounds the rounds of a season, as the
// contract does.
const (
	mostQuestionBytes = 4 << 20
	mostRounds        = 500
)

// settled is how long a file must have lain unchanged for its time and size to stand for its
// bytes: clocks of file systems are coarse.
const settled = 2 * time.Second

// read reads all inputs. Its errors say which file is at fault, and hold no number of a rider.
func (in *inputs) read() (*asking, error) {
	digest := sha256.New()
	request, err := in.readRequest(digest)
	if err != nil {
		return nil, err
	}
	folder := os.DirFS(in.folder)
	names, err := routes.Below(folder)
	if err != nil {
		return nil, fmt.Errorf("the folder of the season: %w", err)
	}
	names = in.withoutRoster(names)
	switch {
	case len(names) == 0:
		return nil, fmt.Errorf("there is no route file in %s", in.folder)
	case len(names) > mostRounds:
		return nil, fmt.Errorf("there are %d route files in %s; a season has at most %d", len(names), in.folder, mostRounds)
	}
	hashed := make(map[string]hashedFile, len(names))
	for _, name := range names {
		if hashed[name], err = in.hash(folder, name); err != nil {
			return nil, fmt.Errorf("the route file: %w", err)
		}
		sum := hashed[name].sum
		fmt.Fprintf(digest, "%s %x\n", strconv.Quote(name), sum)
	}
	in.hashed = hashed
	return &asking{digest: hex.EncodeToString(digest.Sum(nil)), names: names, request: request}, nil
}

// withoutRoster leaves out the roster where it lies among the route files: it is a table as well.
func (in *inputs) withoutRoster(names []string) []string {
	own, err := os.Stat(in.riders)
	if err != nil {
		return names
	}
	var rest []string
	for _, name := range names {
		if info, err := os.Stat(in.path(name)); err != nil || !os.SameFile(info, own) {
			rest = append(rest, name)
		}
	}
	return rest
}

// path is a route file's path.
func (in *inputs) path(name string) string { return filepath.Join(in.folder, filepath.FromSlash(name)) }

// open opens a route file.
func (in *inputs) open(name string) (io.ReadCloser, error) { return os.Open(in.path(name)) }

// hash returns a route file's digest, without reading it where it lies as it was.
func (in *inputs) hash(folder fs.FS, name string) (hashedFile, error) {
	info, err := fs.Stat(folder, name)
	if err != nil {
		return hashedFile{}, err
	}
	file := hashedFile{size: info.Size(), modified: info.ModTime()}
	known, ok := in.hashed[name]
	if ok && known.size == file.size && known.modified.Equal(file.modified) && in.now().Sub(file.modified) > settled {
		return known, nil
	}
	content, err := folder.Open(name)
	if err != nil {
		return hashedFile{}, err
	}
	defer func() { _ = content.Close() }() // only read
	digest := sha256.New()
	if _, err := io.Copy(digest, content); err != nil {
		return hashedFile{}, err
	}
	file.sum = [sha256.Size]byte(digest.Sum(nil))
	return file, nil
}

// readRequest reads what is asked of each round, and adds it to the digest.
func (in *inputs) readRequest(digest hash.Hash) (*contract.SeasonRequest, error) {
	request := &contract.SeasonRequest{}
	if in.question != "" {
		content, err := readSmall(in.question)
		if err != nil {
			return nil, fmt.Errorf("the question: %w", err)
		}
		fmt.Fprintf(digest, "question %d\n%s", len(content), content)
		if err := decodeQuestion(content, request); err != nil {
			return nil, fmt.Errorf("the question in %s: %w", in.question, err)
		}
	}
	if in.riders != "" {
		content, err := readSmall(in.riders)
		if err != nil {
			return nil, fmt.Errorf("the roster: %w", err)
		}
		fmt.Fprintf(digest, "riders %d\n%s", len(content), content)
		riders, err := roster.Read(bytes.NewReader(content))
		if err != nil {
			return nil, fmt.Errorf("the roster in %s: %w", in.riders, err)
		}
		request.Riders = &riders
	}
	return request, complete(request)
}

// readSmall reads a file that isn't large.
func readSmall(path string) ([]byte, error) {
	f, err := os.Open(path) //nolint:gosec // named by who runs the program
	if err != nil {
		return nil, err
	}
	defer func() { _ = f.Close() }() // only read
	content, err := io.ReadAll(io.LimitReader(f, mostQuestionBytes+1))
	if err == nil && len(content) > mostQuestionBytes {
		err = fmt.Errorf("%s has more than %d bytes", path, mostQuestionBytes)
	}
	return content, err
}

// decodeQuestion reads a SeasonQuestion of the contract. Its errors hold no value.
func decodeQuestion(content []byte, request *contract.SeasonRequest) error {
	var question contract.SeasonQuestion
	decoder := json.NewDecoder(bytes.NewReader(content))
	decoder.DisallowUnknownFields()
	err := decoder.Decode(&question)
	if wrong, ok := errors.AsType[*json.UnmarshalTypeError](err); ok {
		return fmt.Errorf("%s is of the wrong type", wrong.Field)
	}
	if err == nil {
		_, err = decoder.Token()
		if errors.Is(err, io.EOF) {
			err = nil
		} else {
			err = errors.New("there is something behind the JSON object")
		}
	}
	*request = contract.SeasonRequest{
		Conditions: question.Conditions, CoveragePct: question.CoveragePct, Effort: question.Effort,
		Riders: question.Riders, Setups: question.Setups, Uncertainties: question.Uncertainties,
	}
	return err
}

// complete names riders that have no name, and gives them an effort where none is asked: their
// own power, or the least time that they can do where all have critical power and W′.
func complete(request *contract.SeasonRequest) error {
	if request.Riders == nil || len(*request.Riders) == 0 {
		return errors.New("there are no riders: give a roster")
	}
	named := map[string]bool{}
	powers, capable := 0, 0
	for i := range *request.Riders {
		r := &(*request.Riders)[i]
		if r.Name == nil {
			name := fmt.Sprintf("Rider %d", i+1)
			r.Name = &name
		}
		if named[*r.Name] {
			return fmt.Errorf("two riders are called %q", *r.Name)
		}
		named[*r.Name] = true
		if r.PowerW != nil {
			powers++
		}
		if r.CriticalPowerW != nil && r.WPrimeJ != nil {
			capable++
		}
	}
	switch all := len(*request.Riders); {
	case request.Effort != nil:
	case powers == all:
		request.Effort = &contract.Effort{Kind: contract.OwnPower}
	case capable == all:
		request.Effort = &contract.Effort{Kind: contract.Best}
	default:
		return fmt.Errorf("%d of %d riders have a power_w, %d both critical_power_w and w_prime_j: give all the one or the other, or an effort in the question", powers, all, capable)
	}
	return nil
}
