package datapackage

import (
	"encoding/json"

	"underlamp/formats/tables"
)

// The words of datapackage.json, as far as they are used here.
type descriptor struct {
	Profile      string     `json:"profile,omitempty"`
	Name         string     `json:"name,omitempty"`
	Title        string     `json:"title,omitempty"`
	Description  string     `json:"description,omitempty"`
	Version      string     `json:"version,omitempty"`
	Created      string     `json:"created,omitempty"`
	Keywords     []string   `json:"keywords,omitempty"`
	Licences     []Licence  `json:"licenses,omitempty"`
	Contributors []Person   `json:"contributors,omitempty"`
	Sources      []Source   `json:"sources,omitempty"`
	Made         *Made      `json:"made_with,omitempty"`
	Missing      []Missing  `json:"not_given,omitempty"`
	Resources    []resource `json:"resources"`
}

type resource struct {
	Profile     string          `json:"profile,omitempty"`
	Name        string          `json:"name"`
	Path        oneOrMore       `json:"path,omitempty"`
	Data        json.RawMessage `json:"data,omitempty"`
	Title       string          `json:"title,omitempty"`
	Description string          `json:"description,omitempty"`
	Format      string          `json:"format,omitempty"`
	Media       string          `json:"mediatype,omitempty"`
	Encoding    string          `json:"encoding,omitempty"`
	Bytes       *int64          `json:"bytes,omitempty"`
	Hash        string          `json:"hash,omitempty"`
	Dialect     json.RawMessage `json:"dialect,omitempty"`
	Schema      json.RawMessage `json:"schema,omitempty"`
}

// oneOrMore is a text or a list of them.
type oneOrMore []string

// UnmarshalJSON reads either.
func (o *oneOrMore) UnmarshalJSON(raw []byte) error {
	var one string
	if json.Unmarshal(raw, &one) == nil {
		*o = oneOrMore{one}
		return nil
	}
	return json.Unmarshal(raw, (*[]string)(o))
}

// MarshalJSON writes one as a text.
func (o oneOrMore) MarshalJSON() ([]byte, error) {
	if len(o) == 1 {
		return json.Marshal(o[0])
	}
	return json.Marshal([]string(o))
}

type schema struct {
	Fields      []field     `json:"fields"`
	Missing     []string    `json:"missingValues"`
	PrimaryKey  oneOrMore   `json:"primaryKey,omitempty"`
	ForeignKeys []reference `json:"foreignKeys,omitempty"`
}

type field struct {
	Name        string       `json:"name"`
	Title       string       `json:"title,omitempty"`
	Type        string       `json:"type,omitempty"`
	Format      string       `json:"format,omitempty"`
	Unit        string       `json:"unit,omitempty"`
	Description string       `json:"description,omitempty"`
	Constraints *constraints `json:"constraints,omitempty"`

	Decimal string   `json:"decimalChar,omitempty"`
	Group   string   `json:"groupChar,omitempty"`
	Bare    *bool    `json:"bareNumber,omitempty"`
	True    []string `json:"trueValues,omitempty"`
	False   []string `json:"falseValues,omitempty"`
}

type constraints struct {
	Required bool            `json:"required,omitempty"`
	Unique   bool            `json:"unique,omitempty"`
	Min      json.RawMessage `json:"minimum,omitempty"`
	Max      json.RawMessage `json:"maximum,omitempty"`
	Enum     []any           `json:"enum,omitempty"`
}

type reference struct {
	Fields    oneOrMore `json:"fields"`
	Reference struct {
		Resource string    `json:"resource"`
		Fields   oneOrMore `json:"fields"`
	} `json:"reference"`
}

type dialect struct {
	Delimiter *string `json:"delimiter"`
	Quote     *string `json:"quoteChar"`
	Header    *bool   `json:"header"`
	Comment   *string `json:"commentChar"`
	Skip      bool    `json:"skipInitialSpace"`
}

// schemaOf describes the columns of a table in the words of Table Schema.
func schemaOf(t *tables.Table) schema {
	s := schema{Missing: []string{""}, PrimaryKey: t.Key}
	number := func(x *float64) json.RawMessage {
		if x == nil {
			return nil
		}
		return json.RawMessage(tables.Print(*x))
	}
	for _, c := range t.Columns {
		f := field{Name: c.Name, Title: c.Title, Type: string(c.Kind), Unit: c.Unit, Description: c.About}
		if c.Required || c.Unique || c.Min != nil || c.Max != nil || len(c.Enum) > 0 {
			f.Constraints = &constraints{Required: c.Required, Unique: c.Unique, Min: number(c.Min), Max: number(c.Max)}
			for _, e := range c.Enum {
				f.Constraints.Enum = append(f.Constraints.Enum, e)
			}
		}
		s.Fields = append(s.Fields, f)
	}
	for _, r := range t.Refs {
		var x reference
		x.Fields = r.Columns
		x.Reference.Resource, x.Reference.Fields = r.Table, r.Their
		s.ForeignKeys = append(s.ForeignKeys, x)
	}
	return s
}

// SchemaJSON is the schema of a table, as it stands in a package.
func SchemaJSON(t *tables.Table) ([]byte, error) { return json.Marshal(schemaOf(t)) }
