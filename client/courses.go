package client

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"net/url"
	"reflect"
	"strconv"
	"strings"

	"parcours.example/api/contract"
)

// File is a route file: GPX, GeoJSON, KML, TCX, FIT or a table, as it is or gzipped.
type File struct {
	// MediaType is left empty for a file that the service is to recognise.
	MediaType string
	// Content is read from where it is. A file of more than 8 MiB is sent as it is read; it can
	// be sent again only where Content is an io.ReaderAt and an io.Seeker, as an opened file is.
	Content io.Reader
}

// CourseByID refers to a course that was analysed before.
func CourseByID(id string) contract.CourseReference { return contract.CourseReference{CourseID: &id} }

// CourseOfProfile refers to a course by its table of distance and elevation in metres.
func CourseOfProfile(distanceM, elevationM []float64, options *contract.CourseOptions) contract.CourseReference {
	p := &contract.ProfileInput{DistanceM: distanceM}
	if elevationM != nil {
		p.ElevationM = &elevationM
	}
	return contract.CourseReference{Profile: p, Options: options}
}

// AnalyseCourse sends a route file and returns how its course is built. Options may be nil.
func (c *Client) AnalyseCourse(ctx context.Context, f File, options *contract.AnalyseCourseParams) (*contract.Course, error) {
	body, err := f.payload()
	if err != nil {
		return nil, err
	}
	k := call{method: http.MethodPost, path: "/v1/courses", query: queryOf(options), accept: jsonMediaType, body: body}
	return c.makeCourse(ctx, k, nil)
}

// AssembleCourse makes one course of several. What may be of "profile" and "geometry".
func (c *Client) AssembleCourse(ctx context.Context, request *contract.AssemblyRequest, include ...string) (*contract.Course, error) {
	k, err := jsonCall("/v1/courses/assemble", request, includes(include), jsonMediaType)
	if err != nil {
		return nil, err
	}
	var from []string
	for _, p := range request.Parts {
		if p.Course.CourseID != nil {
			from = append(from, *p.Course.CourseID)
		}
	}
	return c.makeCourse(ctx, k, from)
}

// makeCourse makes a course and keeps how.
func (c *Client) makeCourse(ctx context.Context, k call, from []string) (*contract.Course, error) {
	course, err := answered[contract.Course](ctx, c, k, from)
	if err == nil {
		plain := k
		plain.query = url.Values{}
		for name, values := range k.query {
			if name != "include" {
				plain.query[name] = values
			}
		}
		c.courses.keep(origin{course.CourseID, plain, from})
	}
	return course, err
}

// Course returns the analysis of a course again. What may be of "profile" and "geometry".
func (c *Client) Course(ctx context.Context, id string, include ...string) (*contract.Course, error) {
	k := call{method: http.MethodGet, path: "/v1/courses/" + url.PathEscape(id), query: includes(include), accept: jsonMediaType, store: true}
	return answered[contract.Course](ctx, c, k, []string{id})
}

// PictureForm is the form of a picture.
type PictureForm string

// The forms of pictures.
const (
	SVG PictureForm = svgMediaType
	PNG PictureForm = pngMediaType
)

// CoursePicture draws a course, or what the options focus on. Options may be nil.
func (c *Client) CoursePicture(ctx context.Context, id string, form PictureForm, options *contract.DrawCourseParams) ([]byte, error) {
	k := call{
		method: http.MethodGet, path: "/v1/courses/" + url.PathEscape(id) + "/profile", query: queryOf(options),
		accept: string(form), store: true,
	}
	return c.bytes(ctx, k, []string{id})
}

// bytes makes a call about courses and returns its reply as it is.
func (c *Client) bytes(ctx context.Context, k call, courses []string) (body []byte, err error) {
	err = c.withCourses(ctx, courses, func() (err error) {
		body, err = c.do(ctx, k)
		return err
	})
	return body, err
}

// answered makes a call about courses and returns its reply, read as JSON.
func answered[Answer any](ctx context.Context, c *Client, k call, courses []string) (*Answer, error) {
	body, err := c.bytes(ctx, k, courses)
	if err != nil {
		return nil, err
	}
	return decoded[Answer](body)
}

// decoded reads a document of the contract.
func decoded[V any](body []byte) (*V, error) {
	var v V
	if err := json.Unmarshal(body, &v); err != nil {
		return nil, fmt.Errorf("%w: %w", ErrReply, err)
	}
	return &v, nil
}

// jsonCall is a POST of a request in JSON.
func jsonCall(path string, request any, query url.Values, accept string) (call, error) {
	content, err := json.Marshal(request)
	if err != nil {
		return call{}, fmt.Errorf("client: the request: %w", err)
	}
	body, err := payloadOf(jsonMediaType, content)
	return call{method: http.MethodPost, path: path, query: query, accept: accept, body: body}, err
}

// includes is the query that asks for further parts of an answer.
func includes(what []string) url.Values {
	if len(what) == 0 {
		return nil
	}
	return url.Values{"include": {strings.Join(what, ",")}}
}

// courseIn lists the course that a request refers to by its id.
func courseIn(r contract.CourseReference) []string {
	if r.CourseID == nil {
		return nil
	}
	return []string{*r.CourseID}
}

// queryOf writes the parameters of a call, a pointer to a struct of the contract or nil, as a
// query: fields with a form tag, in the contract's manner of lists.
func queryOf(params any) url.Values {
	v := reflect.ValueOf(params)
	if v.Kind() != reflect.Pointer || v.IsNil() {
		return nil
	}
	q := url.Values{}
	for i := range v.Elem().NumField() {
		name, _, _ := strings.Cut(v.Elem().Type().Field(i).Tag.Get("form"), ",")
		field := v.Elem().Field(i)
		if name == "" || field.IsNil() {
			continue
		}
		field = field.Elem()
		if field.Kind() != reflect.Slice {
			q.Set(name, written(field))
			continue
		}
		var items []string
		for j := range field.Len() {
			items = append(items, written(field.Index(j)))
		}
		if exploded[name] {
			q[name] = items
		} else {
			q.Set(name, strings.Join(items, ","))
		}
	}
	return q
}

// written is a parameter's value as text.
func written(v reflect.Value) string {
	if v.Kind() == reflect.Float64 {
		return strconv.FormatFloat(v.Float(), 'f', -1, 64)
	}
	return fmt.Sprint(v.Interface())
}

// exploded are the lists that a query repeats its name for; the others stand apart by commas.
var exploded = map[string]bool{"mark": true, "rider": true, "speed_mps": true}
