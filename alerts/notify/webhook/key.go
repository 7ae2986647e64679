package webhook

import (
	"crypto/hmac"
	"crypto/sha256"
	"encoding/base64"
	"errors"
	"fmt"
	"strconv"
	"strings"
	"time"
)

// Length of a key in bytes, by Standard Webhooks 1.0.
const (
	minKey = 24
	maxKey = 64
)

const keyPrefix = "whsec_"

// Keys reads signing keys, written whsec_ and base64, between spaces or line
// ends: each message is signed with all of them. None is no error.
func Keys(secret []byte) ([][]byte, error) {
	var keys [][]byte
	for i, word := range strings.Fields(string(secret)) {
		key, err := readKey(word)
		if err != nil {
			return nil, fmt.Errorf("cannot read signing key %d: %w", i+1, err)
		}
		keys = append(keys, key)
	}
	return keys, nil
}

// readKey keeps what it read out of its errors.
func readKey(word string) ([]byte, error) {
	encoded, ok := strings.CutPrefix(word, keyPrefix)
	if !ok {
		return nil, errors.New("it does not begin with " + keyPrefix)
	}
	key, err := base64.StdEncoding.DecodeString(encoded)
	if err != nil {
		return nil, errors.New("what follows " + keyPrefix + " is not base64")
	}
	if len(key) < minKey || len(key) > maxKey {
		return nil, fmt.Errorf("it has %d bytes: %d to %d are allowed", len(key), minKey, maxKey)
	}
	return key, nil
}

// sign gives the value of webhook-signature.
func sign(keys [][]byte, id string, at time.Time, body []byte) string {
	var all []string
	for _, key := range keys {
		h := hmac.New(sha256.New, key)
		h.Write([]byte(id + "." + strconv.FormatInt(at.Unix(), 10) + "."))
		h.Write(body)
		all = append(all, "v1,"+base64.StdEncoding.EncodeToString(h.Sum(nil)))
	}
	return strings.Join(all, " ")
}
