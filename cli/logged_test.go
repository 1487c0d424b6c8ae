package cli

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

func TestLoggedRefuses(t *testing.T) {
	bench := demoFile(t, "tier-2-middle.yaml")
	table := demoFile(t, "tier-2-middle.logger.csv")
	odd := filepath.Join(t.TempDir(), "odd.csv")
	if err := os.WriteFile(odd, []byte("time,T1\n03/04/2026 10:00,21\n03/04/2026 10:10,21\n03/04/2026 10:20,21\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	for want, args := range map[string][]string{
		"--zone":                      {bench, table},
		"zones are called after":      {bench, table, "--zone", "Cellar"},
		"--lights \"6-22\" is not":    {bench, table, "--zone", "UTC", "--lights", "6-22"},
		"write it as T1=temperature":  {bench, table, "--zone", "UTC", "--column", "Luft=warm"},
		"is not in the table":         {bench, table, "--zone", "UTC", "--column", "T9=temperature"},
		"--dates day":                 {bench, odd, "--zone", "UTC"},
		"--dates is day or month":     {bench, odd, "--zone", "UTC", "--dates", "first"},
		"the table cannot be opened":  {bench, odd + "x"},
		"no column could be told":     {bench, odd, "--zone", "UTC", "--dates", "day"},
		"takes a bench file and the ": {bench},
		"with --store":                {bench, table, "--store", "x.db"},
	} {
		refuses(t, want, append([]string{"logged"}, args...)...)
	}
}

func TestLoggedAsJSON(t *testing.T) {
	var v struct {
		StepS   float64 `json:"step_s"`
		Gaps    int     `json:"gaps"`
		Days    []struct{ Covered float64 }
		Figures []struct{ Name string }
		Block   string `json:"for_the_bench_file"`
	}
	inJSON(t, &v, "logged", demoFile(t, "tier-2-middle.yaml"), demoFile(t, "tier-2-middle.logger.csv"), "--zone", "Europe/Berlin", "--json")
	if v.StepS != 900 || v.Gaps != 1 || len(v.Days) != 7 || len(v.Figures) != 8 || !strings.Contains(v.Block, "humidity: {value: 62 %, from: measured}") {
		t.Errorf("%+v", v)
	}
}
