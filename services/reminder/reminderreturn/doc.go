// Package reminderreturn takes in what comes back of mail: reports that it was
// not delivered, complaints, answers of machines and of people.
//
// Every message leaves with a sender of its own in the envelope, a Path's
// Address, which says which notice it was and is signed. What comes back to it
// arrives by a Listener (LMTP or SMTP) or a Maildir, and Parse says what it is.
// What becomes of the notice is decided elsewhere.
package reminderreturn
