package services_test

import (
	"bytes"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
)

// outsideParser is something that reads what strangers, or files from elsewhere, say.
type outsideParser struct {
	what   string // is read
	from   string // where it comes in
	target string // its fuzz target: package below services, and name
}

// parsers are all that face the outside. Whoever adds a way in adds a row, and
// the target that it names; a target without a row is a fault as well.
var parsers = []outsideParser{
	// What callers of the API send.
	{"the secret of an API key", "the header of a call", "access.FuzzSecretID"},
	{"the caller that a service speaks for", "the header of a call", "access/accessgate.FuzzCallerHeader"},
	{"the object of a call, for the audit", "any request", "access/accessgate.FuzzObjectName"},
	{"names of resources", "any request", "internal/resname.FuzzMatch"},
	{"names of vehicles", "any request", "internal/resname.FuzzSerial"},
	{"page tokens", "lists", "internal/page.FuzzAfter"},
	{"the place in a list of answers", "page tokens", "reminder/reminderrpc.FuzzPlace"},
	{"etags", "changes", "internal/kv.FuzzParseEtag"},
	{"request ids", "changes", "internal/kv.FuzzRequestID"},
	{"a serial as it is spoken", "the telephone, through staff", "vehicle.FuzzParseSerial"},
	{"the number of a new vehicle", "staff", "vehicle.FuzzParseBody"},
	{"days", "requests, forms and files", "vehicle.FuzzParseDate"},
	{"decimal numbers", "requests, forms and files", "vehicle.FuzzParseDecimal"},
	{"amounts of money", "the command line, through staff and dealers", "console.FuzzParseMoney"},
	{"a warranty term or a claim in YAML", "files of staff and dealers", "console.FuzzReadYAML"},
	{"quantities", "requests, forms and files", "vehicle.FuzzParseQuantity"},
	{"lists of shims", "requests and files", "vehicle.FuzzParseCounted"},
	{"ranges of shims to choose from", "requests", "shims.FuzzSelect"},
	{"tyre sizes", "requests and files", "drivetrain.FuzzRollingCircumference"},
	{"the age code of a tyre", "the telephone, through staff", "drivetrain.FuzzParseTyreCode"},
	{"what staff ask about parts", "requests", "parts.FuzzQuestion"},
	{"what staff search for", "requests", "parts.FuzzSearch"},
	{"the words of questions and answers", "requests", "enquiry.FuzzWords"},
	{"the place in a list of enquiries", "page tokens", "enquiry/enquiryrpc.FuzzPlace"},
	{"expressions about vehicles (CEL)", "requests and files", "internal/predicate.FuzzPredicate"},
	{"the marks in the text of a handbook", "files of staff", "handbook.FuzzMarkup"},
	{"names of books and issues", "requests", "handbook/handbookwire.FuzzNames"},
	{"mail addresses", "requests and forms", "owner/ownerrpc.FuzzMailbox"},
	{"telephone numbers, languages, time zones", "requests and forms", "owner/ownerrpc.FuzzContact"},
	{"the code of a transfer", "forms", "owner.FuzzPlainCode"},
	{"names of opt-outs", "requests", "reminder.FuzzParseOptOut"},
	{"faults that another process answers with", "answers of peers", "internal/rpcerr.FuzzFieldDescription"},
	{"an answer that is masked for dealers", "services", "internal/privacy.FuzzMaskForDealer"},
	{"a refusal that is made to say nothing personal", "services", "internal/privacy.FuzzRedact"},
	{"an answer from which other vehicles are taken", "services", "vehicle/vehiclewire.FuzzNoSerialOfAnotherVehicleIsLeft"},
	{"records of builds", "requests", "build/buildwire.FuzzRecord"},
	{"changes of vehicles", "requests", "build/buildwire.FuzzChange"},
	{"terms, claims and cover", "requests", "warranty/warrantywire.FuzzMessages"},
	{"what came back on a job sheet", "requests", "jobsheet/jobsheetwire.FuzzReturn"},
	{"names of job sheets", "requests", "jobsheet/jobsheetwire.FuzzSheetID"},

	// What browsers send.
	{"tokens in links", "addresses of pages", "internal/links.FuzzRead"},
	{"tokens of any making", "addresses of pages", "internal/links.FuzzToken"},
	{"what a link is about", "addresses of pages", "internal/links.FuzzTarget"},
	{"forms", "pages", "ownerpages.FuzzForms"},
	{"a returned job sheet as it is typed", "forms of the desk", "desk.FuzzReturnedSheet"},
	{"the parts, the labour and the costs of a claim", "forms of the desk", "desk.FuzzClaimLines"},
	{"an archive of files to import", "forms of the desk", "desk.FuzzImportedArchive"},
	{"the page that signing in leads to", "forms of the desk", "desk.FuzzNextPage"},
	{"the network that somebody signs in from", "requests of pages", "access/accesssignin.FuzzNetwork"},
	{"whom a proxy speaks for", "headers of requests", "internal/webguard.FuzzSender"},
	{"what repeats in a password", "forms of the desk", "access/signin.FuzzPeriod"},
	{"figures of an odometer", "forms", "ownerpages.FuzzReadFigures"},
	{"pictures", "forms", "internal/photograph.FuzzRedraw"},
	{"how a picture is turned", "forms", "internal/photograph.FuzzOrientation"},

	// What mail servers and gateways send.
	{"returned mail: reports, complaints, answers", "LMTP, SMTP, the directory", "reminder/reminderreturn.FuzzParse"},
	{"return paths", "LMTP, SMTP, the directory", "reminder/reminderreturn.FuzzAddress"},
	{"the conversation with a mail server", "LMTP, SMTP", "reminder/reminderreturn.FuzzConversation"},
	{"events of the text gateway", "its reports", "reminder/remindertext.FuzzParseEvent"},
	{"their signatures", "its reports", "reminder/remindertext.FuzzVerify"},
	{"what people answer to a text message", "its reports", "reminder/remindertext.FuzzCommand"},
	{"what the gateway answers", "its answers", "reminder/remindertext.FuzzAnswer"},
	{"names in mails that we send", "records", "reminder/remindermail.FuzzNamesForgeNothing"},
	{"names in texts that we send", "records", "reminder/reminderwords.FuzzNamesStayNames"},
	{"words that are printed", "records", "internal/typeset.FuzzNoLetterOfAParagraphIsLost"},

	// What files say.
	{"CSV", "imports", "exchange/exchangefile.FuzzCSV"},
	{"workbooks", "imports", "exchange/exchangefile.FuzzXLSX"},
	{"sheets of workbooks", "imports", "exchange/exchangefile.FuzzSheet"},
	{"YAML", "imports", "exchange/exchangefile.FuzzYAML"},
	{"cells", "imports", "exchange.FuzzCells"},
	{"lines of the audit", "an exported audit", "access/audit.FuzzAText"},
	{"sealed lines", "an exported audit", "access/audit.FuzzAnExportedLine"},
	{"certificates and keys", "files named by flags", "internal/certificates.FuzzPEM"},
	{"what an authority signed", "the directory of the authority", "internal/certificates.FuzzRecord"},
	{"the keys of links", "the data directory", "internal/links.FuzzRing"},

	// What operators type.
	{"addresses", "flags", "works.FuzzAddress"},
	{"web addresses that are called", "flags", "internal/outgoing.FuzzCheck"},
	{"what may be called though it is not public", "flags", "internal/outgoing.FuzzAllowed"},
	{"hosts of certificates", "flags", "internal/certificates.FuzzHost"},
	{"cron expressions", "flags", "internal/leader.FuzzParseSpec"},
}

var aTarget = regexp.MustCompile(`(?m)^func (Fuzz\w+)\(`)

func TestEachParserThatFacesTheOutsideIsFuzzed(t *testing.T) {
	var there []string
	err := filepath.WalkDir(".", func(path string, d os.DirEntry, err error) error {
		if err != nil || d.IsDir() || !strings.HasSuffix(path, "_test.go") {
			return err
		}
		source, err := os.ReadFile(path)
		if err != nil || !bytes.Contains(source, []byte("func Fuzz")) {
			return err
		}
		for _, m := range aTarget.FindAllSubmatch(source, -1) {
			there = append(there, filepath.ToSlash(filepath.Dir(path))+"."+string(m[1]))
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	named := map[string]bool{}
	for _, p := range parsers {
		if named[p.target] = true; !slices.Contains(there, p.target) {
			t.Errorf("%s, from %s: there is no %s", p.what, p.from, p.target)
		}
	}
	for _, target := range there {
		if !named[target] {
			t.Errorf("%s fuzzes something that is not in the table: say what, and where it comes in", target)
		}
	}
	t.Logf("%d parsers face the outside, each with a fuzz target", len(parsers))
}
