// Reads a log of records with the packages that check Go's own checksum log: nobody who wrote
// this project wrote those. What they find is printed, one line for each question.
package main

import (
	"encoding/hex"
	"encoding/json"
	"fmt"
	"os"
	"strconv"
	"strings"

	"golang.org/x/mod/sumdb/note"
	"golang.org/x/mod/sumdb/tlog"
)

type question struct {
	Key         string     // the public key of the log
	Checkpoints []string   // signed notes
	Leaves      []string   // what the records hash to, in hex
	Records     []record   // that a record is in a tree
	Trees       []treeGrew // that a tree goes on from another
}

type record struct {
	Leaf, Root  string
	Index, Size int64
	Proof       []string
}

type treeGrew struct {
	OldRoot, NewRoot string
	Old, New         int64
	Proof            []string
}

func main() {
	var asked question
	must(json.NewDecoder(os.Stdin).Decode(&asked))
	verifier, err := note.NewVerifier(asked.Key)
	must(err)
	for _, text := range asked.Checkpoints {
		opened, err := note.Open([]byte(text), note.VerifierList(verifier))
		say("checkpoint", err)
		if err == nil {
			lines := strings.Split(opened.Text, "\n")
			size, err := strconv.ParseInt(lines[1], 10, 64)
			must(err)
			root := rootOf(asked.Leaves[:size])
			if root.String() != lines[2] {
				err = fmt.Errorf("the root of %d leaves is %s", size, root)
			}
			say("root", err)
		}
	}
	for _, one := range asked.Records {
		leaf := tlog.RecordHash(unhex(one.Leaf))
		say("record", tlog.CheckRecord(hashes(one.Proof), one.Size, hash(one.Root), one.Index, leaf))
	}
	for _, one := range asked.Trees {
		say("tree", tlog.CheckTree(hashes(one.Proof), one.New, hash(one.NewRoot), one.Old, hash(one.OldRoot)))
	}
}

func rootOf(leaves []string) tlog.Hash {
	var stored []tlog.Hash
	read := tlog.HashReaderFunc(func(places []int64) ([]tlog.Hash, error) {
		var found []tlog.Hash
		for _, place := range places {
			found = append(found, stored[place])
		}
		return found, nil
	})
	for number, leaf := range leaves {
		more, err := tlog.StoredHashes(int64(number), unhex(leaf), read)
		must(err)
		stored = append(stored, more...)
	}
	root, err := tlog.TreeHash(int64(len(leaves)), read)
	must(err)
	return root
}

func say(what string, err error) {
	if err != nil {
		fmt.Println(what, "refused:", err)
	} else {
		fmt.Println(what, "accepted")
	}
}

func hash(text string) tlog.Hash {
	parsed, err := tlog.ParseHash(text)
	must(err)
	return parsed
}

func hashes(texts []string) []tlog.Hash {
	var parsed []tlog.Hash
	for _, text := range texts {
		parsed = append(parsed, hash(text))
	}
	return parsed
}

func unhex(text string) []byte {
	value, err := hex.DecodeString(text)
	must(err)
	return value
}

func must(err error) {
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(2)
	}
}

