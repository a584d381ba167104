package jobs

import (
	"bytes"
	"encoding/gob"

	"parcours.example/service/cache"
)

// Calls and answers are sealed each for its job, so that no damage and no mistake makes one
// job's of another's.
const callOf, answerOf = "call/", "answer/"

// sealCall encodes and seals the call of a job.
func sealCall(id string, call Call) ([]byte, error) {
	var b bytes.Buffer
	if err := gob.NewEncoder(&b).Encode(call); err != nil {
		return nil, err
	}
	return cache.Seal(callOf+id, b.Bytes()), nil
}

// openCall undoes sealCall.
func openCall(id string, sealed []byte) (Call, error) {
	var call Call
	b, err := cache.Unseal(callOf+id, sealed)
	if err == nil {
		err = gob.NewDecoder(bytes.NewReader(b)).Decode(&call)
	}
	return call, err
}

// sealAnswer seals the answer of a job.
func sealAnswer(id string, answer []byte) []byte { return cache.Seal(answerOf+id, answer) }

// openAnswer undoes sealAnswer.
func openAnswer(id string, sealed []byte) ([]byte, error) { return cache.Unseal(answerOf+id, sealed) }
