// Package services is the map of halfshaft: it has no code of its own, and a
// reader starts here. DEVELOPERS.md is the same map with the rules and their
// reasons; the test beside this file enforces who may import whom.
//
// halfshaft answers for every vehicle a small works has rebuilt, by its serial,
// for decades.
//
// # How a request flows
//
//	caller -- gRPC (TCP or the unix socket DATA/run/halfshaft.sock)
//	  |
//	internal/grpcserver     recover, deadline, access gate, log, error mapping
//	  |
//	<name>/<name>rpc        validate the request, call the domain, call the store, answer
//	  |             |
//	<name>        <name>/<name>store    one etcd transaction with compares
//	(decisions)     ^
//	                '-- projection: list at a revision, watch from the next
//
// Data flows one way: build to parts and schedule, schedule to reminder; only
// where something was used do parts ask schedule, for what services used; enquiry
// asks all of them for its page. A
// service never reads another's keys. It follows the other's state through that
// service's gRPC watch, or asks with a unary call, with the credentials of the
// person on whose behalf it asks.
//
// # Values that all share
//
// They import the standard library and the values above them, and nothing else.
//
//	wording      the pieces of an English sentence
//	fault        the vocabulary of refusals
//	vehicle      serial, civil date, distance, decimal quantity and its units, dial, reason
//	drivetrain   tyres, ratios, road speed, odometer factor, speedometer advice
//
// # Domains
//
// Pure decisions, one package to a service. They import the standard library
// without net and os, the values and each other, and time is an argument: none
// of them reads the clock.
//
//	build        what left the works, and what is on the vehicle on a given day
//	parts        the part to order today for this vehicle, and why
//	shims        the pack of shims to fit, exactly; no service of its own
//	disclosure   drafts of what the odometer law asks for; no service of its own
//	schedule     distance ledger, what is due and which limb binds
//	  schedule/visits     what falls together, grouped at the least total cost
//	  schedule/forecast   the date at which a distance is reached, and how sure it is
//	  schedule/trend      a measured value against its limit, and when it meets it
//	reminder     which notice is to go out, to whom and when
//	owner        people, their vehicles, consent and contact
//	warranty     what is covered, by which promise and until when; claims and the document on paper
//	bulletin     advice and campaigns: for which vehicles, and each until it is done
//	jobsheet     the sheet for the work of a visit, and what becomes of what comes back on it
//	handbook     the handbook of one vehicle, and what changed since it was issued last
//	enquiry      what is asked on the telephone, what is like it, and the page for it
//	access       who may do what
//	  access/audit        lines of what was done, and the chain that proves them
//	  access/signin       sessions, attempts, passwords: who may come in at a page
//
// # What each service has beside its domain
//
//	<name>/<name>wire    the one conversion between its domain and its protos
//	<name>/<name>store   its keys in etcd, nobody else's, and its projection
//	<name>/<name>rpc     its gRPC server: Config, New, Service, RegisterService
//	<name>/<name>audit   the lines of the audit in etcd: taken in, chained, kept, removed (access)
//	<name>/<name>auditrpc  the server for reading and proving the audit (access)
//	<name>/<name>signin  the server for signing in at pages (access)
//	<name>/<name>job     its cron passes, where it has any
//	<name>/<name>words   what it says, in the reader's language and habit (reminder)
//	<name>/<name>mail    its mails: their bytes, and handing them to a server (reminder)
//	<name>/<name>text    its text messages, over the operator's gateway (reminder)
//	<name>/<name>print   what it has on paper and as a page (handbook)
//	<name>/<name>letter  its letters on paper (reminder)
//	<name>/<name>calendar  the calendar a person subscribes to (reminder)
//	<name>/<name>return  what comes back of them, and how it comes in (reminder)
//
// vehicle has a conversion too, vehicle/vehiclewire, which all services use.
//
// # Clients of the services
//
//	exchange     spreadsheets, CSV and YAML in and out
//	console      what the command line prints
//	ownerpages   the HTTP pages that an owner's links open
//	desk         the HTTP pages that staff and dealers' people sign in to
//
// # One process
//
//	works        puts services together: serve and demo
//
// The binary is cmd/halfshaft: flags and subcommands, no logic.
//
// # Plumbing, in internal
//
//	embedetcd    etcd in this process, on a unix socket
//	kv           transactions with compares, request ids, fences
//	projection   follow a prefix: list, watch, relist after a compaction
//	watermark    wait until a revision has been applied
//	feed         the server and client ends of a gRPC watch
//	leader       election, fence, launches, the cron loop
//	upkeep       the store's health: full stores, snapshots that are proved, old request ids
//	grpcserver   server builder, in-process connection
//	webguard     headers of pages, and who sent a request
//	password     hashes of passwords, a bounded number at a time
//	onetime      the codes of authenticators, and what seals their secrets
//	httpserver   the one server of pages: limits, TLS, headers
//	outgoing     the one way to call web addresses
//	certificates a works' own authority; certificates that are exchanged while a process runs
//	rpcerr       the mapping from faults to statuses
//	wholefile    files that are there whole or not at all
//	throttle     buckets of tokens for many senders
//	staging      the redo log behind an all-or-nothing import
//	resname      resource names
//	page         page tokens
//	locale       phrases, dates, numbers and distances in a reader's habit
//	typeset      documents of blocks, as a PDF to print and as a page
//	reach        whether a mail address or a telephone number can be real
//	links        the signed links in messages
//	privacy      what is personal in messages: masks, redaction, the inventory
//	photograph   pictures that were sent, drawn anew from their pixels
//	figure       pictures of data: drawing, sentences and table from plain values; SVG
//	predicate    CEL over a configuration
//	handclock    a clock that is moved by hand, for tests
//	freeaddress  addresses on which nobody listens, for tests
//	selfsigned   certificates that vouch for themselves, for tests
//	telephone    a browser as a person holds it, for tests
package services
