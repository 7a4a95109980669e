// Package enquiry is about what is asked on the telephone: questions about a
// serial with their answers, earlier questions like one that is being asked,
// and what the page for the telephone warns of, shows and asks back.
//
// Everything here is a decision over values; time is an argument. Keeping and
// sealing are for enquirystore and enquiryrpc.
//
// A question passes through the files in this order: what an enquiry is and
// what is wrong with it (enquiry.go, check.go); what a note is (note.go); which
// earlier ones are like it, and in what (words.go, likeness.go, index.go); and
// for the page, what comes first (warning.go), what is near a limit (near.go)
// and what to ask the caller (question.go, reach.go).
package enquiry
