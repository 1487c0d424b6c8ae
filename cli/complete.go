package cli

import (
	"context"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"underlamp/access"
	"underlamp/actuate"
	"underlamp/app/measurand"
	"underlamp/app/trouble"
	"underlamp/formats/evidencefile"
	"underlamp/intake/fileintake"
	"underlamp/science/crops"
	"underlamp/science/nutrients"
	"underlamp/science/photometry"
	"underlamp/store"
)

// A completer lists what may stand at a place of a command line.
type completer func(w World, c *cobra.Command, args []string, begun string) ([]string, cobra.ShellCompDirective)

// completeLimit bounds how long completion asks a store: nobody waits for a shell.
const completeLimit = 2 * time.Second

// written are the files of one kind, in the folder that is begun, by what stands in them.
func written(heads ...string) completer {
	return func(_ World, _ *cobra.Command, _ []string, begun string) ([]string, cobra.ShellCompDirective) {
		folder := filepath.Dir(begun)
		if strings.HasSuffix(begun, string(filepath.Separator)) {
			folder = filepath.Clean(begun)
		}
		var out []string
		for _, head := range heads {
			for _, name := range filesOf(folder, head) {
				path := filepath.Join(folder, name)
				if strings.HasPrefix(begun, "."+string(filepath.Separator)) {
					path = "." + string(filepath.Separator) + path
				}
				if strings.HasPrefix(path, begun) {
					out = append(out, called(path, nameIn(path)))
				}
			}
		}
		if len(out) == 0 { // whatever is there: a folder further down may hold one
			return []string{"yaml", "yml"}, cobra.ShellCompDirectiveFilterFileExt
		}
		return out, cobra.ShellCompDirectiveNoFileComp
	}
}

// endings are files by their endings; shells find them.
func endings(all ...string) completer {
	return func(World, *cobra.Command, []string, string) ([]string, cobra.ShellCompDirective) {
		return all, cobra.ShellCompDirectiveFilterFileExt
	}
}

func folders(World, *cobra.Command, []string, string) ([]string, cobra.ShellCompDirective) {
	return nil, cobra.ShellCompDirectiveFilterDirs
}

func anyFile(World, *cobra.Command, []string, string) ([]string, cobra.ShellCompDirective) {
	return nil, cobra.ShellCompDirectiveDefault
}

// oneOf are words, each with what it means behind a tab if that needs saying.
func oneOf(words ...string) completer {
	return func(World, *cobra.Command, []string, string) ([]string, cobra.ShellCompDirective) {
		return words, cobra.ShellCompDirectiveNoFileComp | cobra.ShellCompDirectiveKeepOrder
	}
}

// inStore are names from the store that the command line names.
func inStore(list func(ctx context.Context, s store.Store) ([]string, error)) completer {
	return func(w World, c *cobra.Command, _ []string, _ string) ([]string, cobra.ShellCompDirective) {
		f := c.Flag("store")
		if f == nil || f.Value.String() == "" || w.OpenStore == nil {
			return nil, cobra.ShellCompDirectiveNoFileComp
		}
		ctx, stop := context.WithTimeout(context.Background(), completeLimit)
		defer stop()
		c.SetContext(ctx)
		s, err := openStore(c, w, f.Value.String(), false)
		if err != nil {
			return nil, cobra.ShellCompDirectiveNoFileComp
		}
		defer s.Close()
		out, err := list(ctx, s)
		if err != nil {
			return nil, cobra.ShellCompDirectiveNoFileComp
		}
		return out, cobra.ShellCompDirectiveNoFileComp
	}
}

// either are the completions of both, files only where the second has none.
func either(a, b completer) completer {
	return func(w World, c *cobra.Command, args []string, begun string) ([]string, cobra.ShellCompDirective) {
		x, _ := a(w, c, args, begun)
		y, d := b(w, c, args, begun)
		if len(x) > 0 {
			d = cobra.ShellCompDirectiveNoFileComp
		}
		return append(x, y...), d
	}
}

var (
	benchFiles = written("underlamp")
	trialFiles = written("underlamp trial")

	storedBenches = inStore(func(ctx context.Context, s store.Store) ([]string, error) { return s.Benches(ctx) })
	sensorKeys    = inStore(func(ctx context.Context, s store.Store) ([]string, error) {
		all, err := s.Sensors(ctx)
		var out []string
		for _, x := range all {
			out = append(out, called(x.Key, x.Quantity))
		}
		return out, err
	})
	deviceNames = inStore(func(ctx context.Context, s store.Store) ([]string, error) {
		all, err := s.Devices(ctx)
		var out []string
		for _, d := range all {
			out = append(out, d.Name)
		}
		return out, err
	})
	peopleNames = inStore(func(ctx context.Context, s store.Store) ([]string, error) {
		sessions, _, err := access.New(s, nil).Sessions(ctx)
		var out []string
		for _, x := range sessions {
			if !slices.Contains(out, x.Person) {
				out = append(out, x.Person)
			}
		}
		return out, err
	})
	tokenNames = inStore(func(ctx context.Context, s store.Store) ([]string, error) {
		all, err := access.NewTokens(s, nil).All(ctx)
		var out []string
		for _, t := range all {
			out = append(out, t.Name)
		}
		return out, err
	})
	tableNames = documents(fileintake.KindTable)
	actNames   = documents(actuate.KindAct)
)

// documents are the names of what a store keeps of a kind.
func documents(kind string) completer {
	return inStore(func(ctx context.Context, s store.Store) ([]string, error) {
		all, err := s.Documents(ctx, kind)
		var out []string
		for _, d := range all {
			out = append(out, d.Name)
		}
		return out, err
	})
}

func cropWords(World, *cobra.Command, []string, string) ([]string, cobra.ShellCompDirective) {
	var out []string
	list := crops.All()
	for i := range list {
		out = append(out, called(list[i].Name, kindOfCrop(&list[i])))
	}
	return out, cobra.ShellCompDirectiveNoFileComp
}

func recipeNames(World, *cobra.Command, []string, string) ([]string, cobra.ShellCompDirective) {
	var out []string
	for _, r := range nutrients.Recipes() {
		out = append(out, r.Name)
	}
	return out, cobra.ShellCompDirectiveNoFileComp
}

func symptomKeys(World, *cobra.Command, []string, string) ([]string, cobra.ShellCompDirective) {
	var out []string
	for _, f := range trouble.Symptoms(evidencefile.Builtin()) {
		out = append(out, called(f.Key, f.Name))
	}
	return out, cobra.ShellCompDirectiveNoFileComp
}

func readsWords(World, *cobra.Command, []string, string) ([]string, cobra.ShellCompDirective) {
	return strings.Split(measurand.Names(), ", "), cobra.ShellCompDirectiveNoFileComp
}

// flagValues complete the values of flags by name: a flag means the same everywhere.
var flagValues = map[string]completer{
	"bench": either(benchFiles, storedBenches), "outlook": benchFiles, "trial": trialFiles, "scatter-from": trialFiles,
	"cycle": written("underlamp cycle"), "rules": written("underlamp watch"), "evidence": written("underlamp evidence"),
	"store": endings("db", "sqlite"), "html": endings("html"), "svg": endings("svg"), "calendar": endings("ics"), "table": endings("csv"), "trial-table": endings("csv"),
	"cert": endings("pem", "crt"), "key": endings("pem", "key"), "broker-ca": endings("pem", "crt"), "output": anyFile, "access-log": anyFile,
	"folder": folders, "measured": folders, "tables": folders, "certificates": folders,
	"units": oneOf("metric\tcm, °C, g", "us\tin, °F, oz"), "color": oneOf("auto\twhere a terminal shows it", "always", "never"),
	"field": oneOf("auto\twhere there are readings enough", "on", "off"), "equal": oneOf("ppfd", "dli"), "goal": oneOf("electricity\tsaleable mass for each kWh", "day\tfor each day", "area\tfor each m²", "money"),
	"most": oneOf("even\tthe most even light", "within\tthe most plants near the target"), "least": oneOf("electricity"), "for": oneOf("every\tevery plant", "mean\tthe mean of the plants"),
	"dates": oneOf("day\t31/12/2026", "month\t12/31/2026"), "shares": oneOf("photons", "energy"), "role": oneOf("owner\tmay do everything", "helper\tmay enter what is seen", "viewer\tmay look"),
	"response": oneOf("mass", "height", "burn", "severity", "onset\tday of the first burn"), "what": oneOf("mass", "height", "width", "leaves", "burn", "severity", "clear", "first"),
	"helped": oneOf("yes", "no"), "fan": oneOf("none", "across", "down"), "size": oneOf("small", "large", "stick", "card"), "sheet": oneOf("a4", "letter", "a4-70x37", "a4-63.5x38.1", "a4-99.1x67.7", "letter-101.6x50.8"),
	"zone": zones, "recipe": recipeNames, "species": cropWords, "reads": readsWords, "quantity": readsWords, "symptom": symptomKeys, "sensor": sensorKeys, "sensors": sensorKeys,
	"per-lumen": lampClasses,
}

// argumentValues complete what stands behind a command, place by place; the last holds
// for those that follow.
var argumentValues = map[string][]completer{
	"check": {benchFiles}, "light": {benchFiles}, "aim": {benchFiles}, "match": {benchFiles, benchFiles}, "raise": {benchFiles},
	"outlook": {benchFiles}, "best": {benchFiles}, "plan": {benchFiles}, "doubt": {benchFiles}, "report": {benchFiles}, "air": {benchFiles},
	"lamp": {endings("ies", "ldt")}, "spectrum": {endings("csv", "txt", "tsv", "spdx")}, "crops": {cropWords},
	"learn": {benchFiles, written("underlamp cycle")}, "backtest": {benchFiles, written("underlamp cycle")},
	"feed mix": {written("underlamp feed")}, "feed check": {written("underlamp feed")}, "feed correct": {written("underlamp feed")},
	"trial sheet": {trialFiles}, "trial record": {trialFiles}, "trial findings": {trialFiles}, "trial undo": {trialFiles}, "trial import": {trialFiles, endings("csv", "xlsx")},
	"rounds list": {either(benchFiles, storedBenches)}, "rounds export": {either(benchFiles, storedBenches)}, "rounds import": {either(benchFiles, storedBenches), endings("json")},
	"rounds photos": {either(benchFiles, storedBenches), folders}, "rounds cycle": {benchFiles},
	"trouble": {either(benchFiles, storedBenches)}, "labels": {written("underlamp", "underlamp trial")}, "photos": {folders, written("underlamp", "underlamp trial")}, "strip": {written("underlamp", "underlamp trial")},
	"sensor show": {sensorKeys}, "sensor set": {sensorKeys}, "sensor calibrate": {sensorKeys}, "device revoke": {deviceNames},
	"tables show": {tableNames}, "tables put": {tableNames, anyFile}, "tables drop": {tableNames}, "logged": {benchFiles, endings("csv", "tsv", "txt")},
	"watch": {either(benchFiles, storedBenches)}, "notify": {written("underlamp notify")},
	"act new": {benchFiles}, "act check": {written("underlamp act"), benchFiles}, "act put": {written("underlamp act")}, "act show": {actNames}, "act drop": {actNames}, "act set": {actNames}, "act clear": {actNames},
	"benches import": {either(benchFiles, folders)}, "benches correct": {storedBenches}, "benches history": {storedBenches}, "benches show": {storedBenches}, "benches export": {folders}, "benches remove": {storedBenches},
	"people remove": {peopleNames}, "token revoke": {tokenNames}, "serve": {folders}, "doctor": {folders}, "schema": {schemaNames}, "store verify": {anyFile}, "store restore": {anyFile}, "store import": {anyFile}, "store keep": {oneOf("90d", "365d", "always", "none")},
}

func schemaNames(World, *cobra.Command, []string, string) ([]string, cobra.ShellCompDirective) {
	var out []string
	for _, o := range outputs() {
		out = append(out, called(o.name, o.about))
	}
	return out, cobra.ShellCompDirectiveNoFileComp
}

func lampClasses(World, *cobra.Command, []string, string) ([]string, cobra.ShellCompDirective) {
	var out []string
	for _, k := range photometry.Classes() {
		out = append(out, called(k.Key, k.Name))
	}
	return out, cobra.ShellCompDirectiveNoFileComp
}

// zones are some time zones: a system lists its own in places that differ.
func zones(World, *cobra.Command, []string, string) ([]string, cobra.ShellCompDirective) {
	return []string{"Local\tthat of this machine", "UTC", "Europe/Amsterdam", "Europe/Berlin", "Europe/London", "Europe/Madrid", "Europe/Paris", "Europe/Warsaw", "America/Chicago", "America/Denver",
		"America/Los_Angeles", "America/New_York", "America/Sao_Paulo", "Asia/Kolkata", "Asia/Shanghai", "Asia/Tokyo", "Australia/Sydney", "Pacific/Auckland"}, cobra.ShellCompDirectiveNoFileComp
}

// completions adds what completes flags and arguments to every command.
func completions(w World, c *cobra.Command) {
	path := strings.TrimPrefix(c.CommandPath(), "underlamp ")
	if at := argumentValues[path]; len(at) > 0 {
		c.ValidArgsFunction = func(c *cobra.Command, args []string, begun string) ([]string, cobra.ShellCompDirective) {
			return at[min(len(args), len(at)-1)](w, c, args, begun)
		}
	} else if !c.HasSubCommands() && c.ValidArgsFunction == nil {
		c.ValidArgsFunction = cobra.NoFileCompletions
	}
	add := func(f *pflag.Flag) {
		if f.Hidden || f.Value.Type() == "bool" {
			return
		}
		fill := flagValues[f.Name]
		if fill == nil {
			fill = oneOf()
		}
		_ = c.RegisterFlagCompletionFunc(f.Name, func(c *cobra.Command, args []string, begun string) ([]string, cobra.ShellCompDirective) {
			return fill(w, c, args, begun)
		})
	}
	c.LocalNonPersistentFlags().VisitAll(add)
	c.PersistentFlags().VisitAll(add)
	for _, s := range c.Commands() {
		completions(w, s)
	}
}
