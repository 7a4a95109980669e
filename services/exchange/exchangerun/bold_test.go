package exchangerun_test

import (
	"slices"
	"strings"
	"testing"

	"halfshaft/services/exchange"
	"halfshaft/testdata/aldermoor"
)

// bare has for every table rows whose bold columns alone are filled, and after
// a bar what the table's page wants of such a row besides: of a setting a
// value, of an application a part or a reason.
var bare = map[string][]string{
	"builds":              {"serial,release,build date", "AM0165L,R5,2024-03-01"},
	"components":          {"serial,position", "AM0165L,engine"},
	"measurements":        {"serial,position,characteristic,value", "AM0165L,gearbox,end-float,0.10 mm"},
	"fluids":              {"serial,position,fluid", "AM0165L,gearbox,SAE 80W-90"},
	"deviations":          {"serial,deviation,text,approved by,approved date", "AM0165L,D1,Another lamp.,R. Thorne,2024-02-28"},
	"road test":           {"serial,test date,text", "AM0165L,2024-03-02,Pulls well."},
	"changes":             {"serial,kind,change date|plate", "AM0165L,plate,2024-05-01,AM 165 PH"},
	"parts":               {"part,title,status", "ZZ-1,Bolt,orderable", "ZZ-2,Bolt,orderable"},
	"kit contents":        {"part,line part", "ZZ-2,ZZ-1"},
	"renew with":          {"part,line part", "ZZ-1,ZZ-2"},
	"dimensions":          {"part,dimension,size", "ZZ-1,length,52 mm"},
	"supersessions":       {"old part|id", "ZZ-1,ZS1"},
	"new parts":           {"supersession,new part", "ZS1,ZZ-2"},
	"positions":           {"position,title|within", "z-bolt,Bolt,gearbox"},
	"applications":        {"id,position|text", "ZA1,z-bolt,Made to measure."},
	"settings":            {"id,position,characteristic,unit,sample|lower,upper,shim sign", "ZT1,gearbox,z-float,mm,no,0.05,0.10,adds float"},
	"shim sizes":          {"setting,thickness", "ZT1,0.13 mm"},
	"capacities":          {"id,position,fluid,family,quantity,sample", "ZF1,z-bolt,Oil,gear-oil,1 l,no"},
	"readings":            {"serial,reading date,value", "AM0165L,2024-06-01,100 mi"},
	"service entries":     {"serial,service date|id", "AM0165L,2024-06-02,zv1"},
	"items done":          {"entry,item", "zv1,E01"},
	"measured values":     {"entry,item,characteristic,value", "zv1,E01,end-float,0.10 mm"},
	"shim work":           {"entry,item,position,characteristic|pack", "zv1,E01,output-shaft-bearing,end-float,0.76 mm"},
	"parts used":          {"entry,part", "zv1,ZZ-2"},
	"events":              {"serial,kind,event date", "AM0165L,wading,2024-06-03"},
	"use facts":           {"serial,kind,start date", "AM0165L,salt coast,2024-06-04"},
	"people":              {"id,full name,time zone", "z1,Ida Penrose,Europe/London"},
	"consents":            {"person,purpose,given,consent time,source", "z1,service,no,2024-03-01T09:00:00Z,telephone"},
	"erasures":            {"person,create time,ground", "z2,2024-03-01T09:00:00Z,asked for"},
	"standings":           {"serial,state,since date", "AM0165L,in use,2024-03-01"},
	"days out of service": {"serial,start date,reason", "AM0165L,2024-06-05,Waiting for a gearbox."},
	"enquiries":           {"serial,channel,asker|symptom,id", "AM0165L,telephone,owner,weep at the seal,zq1"},
	"enquiry answers":     {"enquiry,answered by,answer time", "zq1,front desk,2024-06-06T09:00:00Z"},
	"answer notes":        {"id,title,text,sample", "z-drip,A drip,A film is normal.,yes"},
	"ties":                {"serial,person,role,start date", "AM0165L,z1,owner,2024-03-01"},
}

func TestARowNeedsTheBoldColumnsAndNoOther(t *testing.T) {
	ctx, c := emptyWorks(t)
	importFrom(t, ctx, c, fewVehicles(t))
	dir := t.TempDir()
	for _, table := range exchange.Tables() {
		rows := slices.Clone(bare[table.Name])
		if rows == nil {
			t.Errorf("no row of %s", table.Name)
			continue
		}
		only, _, _ := strings.Cut(rows[0], "|")
		var bold []string
		for _, column := range table.Columns {
			if column.Required {
				bold = append(bold, column.Name)
			}
		}
		if got := strings.Split(only, ","); !sameSet(got, bold) {
			t.Errorf("%s: the row fills %q, bold are %q", table.Name, got, bold)
		}
		rows[0] = strings.Replace(rows[0], "|", ",", 1)
		put(t, dir, table.FileName()+".csv", strings.Join(rows, "\n")+"\n")
	}
	if r := importFrom(t, ctx, c, dir); r.Written != r.New || r.Written < 15 {
		t.Errorf("%d of %d written", r.Written, r.New)
	}
	// And each of them is needed: an empty cell is refused.
	for _, table := range exchange.Tables() {
		for i, name := range strings.Split(strings.Replace(bare[table.Name][0], "|", ",", 1), ",") {
			if table.Columns[slices.IndexFunc(table.Columns, func(c exchange.Column) bool { return c.Name == name })].Required {
				wantNeeded(t, table, bare[table.Name], i, name)
			}
		}
	}
}

func sameSet(a, b []string) bool {
	return slices.Equal(slices.Sorted(slices.Values(a)), slices.Sorted(slices.Values(b)))
}

// wantNeeded empties one cell of a bare row and wants a fault at it.
func wantNeeded(t *testing.T, table *exchange.Table, rows []string, column int, name string) {
	t.Helper()
	c := exchange.NewCollection()
	sheet := c.Sheet("x.csv", "", table)
	for i, row := range []string{strings.Replace(rows[0], "|", ",", 1), rows[1]} {
		var cells []exchange.Cell
		for _, text := range strings.Split(row, ",") {
			cells = append(cells, exchange.Cell{Text: text})
		}
		if i == 1 {
			cells[column].Text = ""
		}
		sheet.Row(i+1, cells)
	}
	c.Join()
	c.Check(aldermoor.Today)
	if !slices.ContainsFunc(c.Faults.Sorted(), func(f exchange.Fault) bool { return f.Row == 2 && f.Column == name && f.Got == "" }) {
		t.Errorf("%s without %s is taken: %v", table.Name, name, c.Faults.Sorted())
	}
}
