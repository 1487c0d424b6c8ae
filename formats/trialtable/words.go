package trialtable

import "strings"

// words are headings, without units and in lower case, and what they mean: words of the
// trade in English, German, Dutch, French and Spanish (from memory). A lamp is not taken
// for a unit: the person must say so.
var words = map[string]string{}

func init() {
	for meaning, list := range map[string]string{
		"unit":     "unit, treatment unit, trial unit, plot, parcelle, parcela, perceel",
		"plant":    "plant, plants, plant id, plant no, plant nr, plant number, plant name, plant code, head, head no, pot, pot no, position, pflanze, pflanze nr, pflanzennummer, topf, kopf, plaats, plante, pied, planta, numero de planta",
		"time":     "time, date, day, day seen, seen, seen on, when, cut on, weighed on, harvested on, harvest date, date of harvest, datum, tag, erntedatum, geerntet am, ernte am, oogstdatum, dag, jour, date de récolte, fecha, fecha de cosecha, día",
		"by":       "by, who, seen by, measured by, weighed by, person, name, observer, wer, von, durch, wie, qui, par, quien, quién",
		"with":     "with, instrument, scale, balance, device, tool, gerät, waage, weegschaal, appareil, instrumento, balanza",
		"note":     "note, notes, remark, remarks, comment, comments, observation, observations, notiz, notizen, bemerkung, bemerkungen, kommentar, anmerkung, opmerking, opmerkingen, notitie, remarque, remarques, commentaire, nota, notas, observaciones, comentario",
		"mass":     "mass, fresh mass, fresh weight, weight, wt, fw, fresh wt, head weight, shoot mass, fresh mass g, mass g, weight g, yield, gewicht, frischmasse, frischgewicht, masse, kopfgewicht, versgewicht, kropgewicht, poids, poids frais, masse fraîche, peso, peso fresco",
		"height":   "height, height cm, plant height, ht, höhe, pflanzenhöhe, hoogte, hauteur, altura, alto",
		"width":    "width, width cm, diameter, spread, across, breite, durchmesser, breedte, largeur, diamètre, ancho, diámetro",
		"leaves":   "leaves, leaf count, number of leaves, leaf number, no of leaves, blätter, blattzahl, bladeren, aantal bladeren, feuilles, nombre de feuilles, hojas, número de hojas",
		"burn":     "burn, tipburn, tip burn, inner burn, inner tipburn, burnt, burned, brand, innenbrand, blattrandnekrose, rand, randen, brûlure, nécrose, quemadura, quemado",
		"severity": "severity, burn grade, burn score, tipburn score, tipburn grade, tipburn severity, burn severity, grade, schweregrad, brandnote, boniturnote",
		"clear":    "last clear day, last clear",
		"first":    "first seen day, first burn, burn first seen, first tipburn",
		"area":     "area, leaf area, blattfläche, bladoppervlak, surface foliaire, área foliar",
	} {
		for w := range strings.SplitSeq(list, ", ") {
			words[w] = meaning
		}
	}
}

var blanks = strings.NewReplacer("_", " ", "(", " ", ")", " ", "[", " ", "]", " ", ".", " ", ":", " ", "#", " ", "-", " ")

// Guess is what a usual heading, without its unit, means; empty if it must be said.
func Guess(heading string) string {
	return words[strings.Join(strings.Fields(blanks.Replace(strings.ToLower(heading))), " ")]
}
