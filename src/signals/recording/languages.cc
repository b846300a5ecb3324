#include "signals/recording/internal/languages.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cctype>
#include <cstddef>
#include <utility>

namespace fuelwright::signals {
namespace {

/// Common words of the trade, general knowledge of the languages, no source. One list for each
/// group of languages. An empty translation says nothing about what is measured.
struct Word {
  std::string_view foreign;  // folded
  std::string_view english;
};

constexpr auto kWords = std::to_array<Word>({
    // German
    {"abgas", "exhaust"},
    {"abgastemperatur", "exhaust temperature"},
    {"ansaugdruck", "intake pressure"},
    {"ansaugluft", "intake air"},
    {"ansauglufttemperatur", "intake air temperature"},
    {"ansaugtemperatur", "intake temperature"},
    {"aussentemperatur", "ambient temperature"},
    {"batteriespannung", "battery voltage"},
    {"bordspannung", "battery voltage"},
    {"drehzahl", "rpm"},
    {"motordrehzahl", "rpm"},
    {"drosselklappe", "throttle"},
    {"drosselklappenstellung", "throttle"},
    {"drosselklappenwinkel", "throttle"},
    {"druck", "pressure"},
    {"einspritzdauer", "injection duration"},
    {"einspritzzeit", "injection time"},
    {"fahrgeschwindigkeit", "vehicle speed"},
    {"fahrpedal", "pedal"},
    {"gaspedal", "pedal"},
    {"fahrzeuggeschwindigkeit", "vehicle speed"},
    {"gang", "gear"},
    {"gemisch", "mixture"},
    {"geschwindigkeit", "speed"},
    {"kraftstoff", "fuel"},
    {"kraftstoffdruck", "fuel pressure"},
    {"kuhlmittel", "coolant"},
    {"kuehlmittel", "coolant"},
    {"kuhlmitteltemperatur", "coolant temperature"},
    {"kuehlmitteltemperatur", "coolant temperature"},
    {"kuhlwasser", "coolant"},
    {"kuehlwasser", "coolant"},
    {"kuhlwassertemperatur", "coolant temperature"},
    {"kuehlwassertemperatur", "coolant temperature"},
    {"wassertemperatur", "water temperature"},
    {"ladedruck", "boost pressure"},
    {"ladeluft", "charge"},
    {"lambdawert", "lambda"},
    {"luftmasse", "air mass"},
    {"luftmassenstrom", "air mass flow"},
    {"lufttemperatur", "air temperature"},
    {"luftdruck", "barometric pressure"},
    {"umgebungsdruck", "ambient pressure"},
    {"motorlast", "engine load"},
    {"oltemperatur", "oil temperature"},
    {"oeltemperatur", "oil temperature"},
    {"oldruck", "oil pressure"},
    {"oeldruck", "oil pressure"},
    {"saugrohr", "manifold"},
    {"saugrohrdruck", "manifold pressure"},
    {"spannung", "voltage"},
    {"tastverhaltnis", "duty"},
    {"temperatur", "temperature"},
    {"uhrzeit", "time"},
    {"zeit", "time"},
    {"zeitstempel", "timestamp"},
    {"zundwinkel", "spark angle"},
    {"zuendwinkel", "spark angle"},
    {"zundung", "ignition"},
    {"kurzzeit", "short"},
    {"langzeit", "long"},
    {"kraftstoffkorrektur", "fuel trim"},
    {"gemischkorrektur", "mixture correction"},
    {"korrektur", "correction"},
    {"soll", "target"},
    {"sollwert", "target"},
    // French
    {"accelerateur", "accelerator"},
    {"admission", "intake"},
    {"avance", "advance"},
    {"allumage", "ignition"},
    {"batterie", "battery"},
    {"collecteur", "manifold"},
    {"carburant", "fuel"},
    {"consigne", "target"},
    {"debit", "flow"},
    {"depression", "vacuum"},
    {"duree", "duration"},
    {"eau", "water"},
    {"essence", "fuel"},
    {"heure", "time"},
    {"huile", "oil"},
    {"injecteur", "injector"},
    {"liquide", ""},
    {"moteur", "engine"},
    {"papillon", "throttle"},
    {"pedale", "pedal"},
    {"pression", "pressure"},
    {"rapport", "gear"},
    {"refroidissement", "coolant"},
    {"regime", "rpm"},
    {"richesse", "equivalence"},
    {"suralimentation", "boost"},
    {"temps", "time"},
    {"vehicule", "vehicle"},
    {"vitesse", "speed"},
    // Spanish, Italian, Portuguese
    {"aceite", "oil"},
    {"acelerador", "accelerator"},
    {"acceleratore", "accelerator"},
    {"acqua", "water"},
    {"admision", "intake"},
    {"admissao", "intake"},
    {"agua", "water"},
    {"aire", "air"},
    {"anticipo", "advance"},
    {"aria", "air"},
    {"arrefecimento", "coolant"},
    {"aspirazione", "intake"},
    {"ar", "air"},
    {"avanco", "advance"},
    {"bateria", "battery"},
    {"batteria", "battery"},
    {"benzina", "fuel"},
    {"borboleta", "throttle"},
    {"carburante", "fuel"},
    {"carga", "load"},
    {"carico", "load"},
    {"caudal", "flow"},
    {"colector", "manifold"},
    {"coletor", "manifold"},
    {"collettore", "manifold"},
    {"combustible", "fuel"},
    {"combustivel", "fuel"},
    {"corta", "short"},
    {"corto", "short"},
    {"encendido", "ignition"},
    {"farfalla", "throttle"},
    {"giri", "rpm"},
    {"hora", "time"},
    {"ignicao", "ignition"},
    {"iniezione", "injection"},
    {"injecao", "injection"},
    {"injection", "injection"},
    {"inyeccion", "injection"},
    {"inyector", "injector"},
    {"iniettore", "injector"},
    {"larga", "long"},
    {"liquido", ""},
    {"mariposa", "throttle"},
    {"marcha", "gear"},
    {"marcia", "gear"},
    {"massa", "mass"},
    {"masa", "mass"},
    {"mezcla", "mixture"},
    {"miscela", "mixture"},
    {"mistura", "mixture"},
    {"motor", "engine"},
    {"motore", "engine"},
    {"olio", "oil"},
    {"oleo", "oil"},
    {"pedal", "pedal"},
    {"pedale", "pedal"},
    {"portata", "flow"},
    {"posicion", "position"},
    {"posicao", "position"},
    {"posizione", "position"},
    {"position", "position"},
    {"presion", "pressure"},
    {"pressao", "pressure"},
    {"pressione", "pressure"},
    {"raffreddamento", "coolant"},
    {"refrigerante", "coolant"},
    {"refrigeracion", "coolant"},
    {"regimen", "rpm"},
    {"revoluciones", "rpm"},
    {"rotacao", "rpm"},
    {"rotacoes", "rpm"},
    {"rpm", "rpm"},
    {"temperatura", "temperature"},
    {"temperature", "temperature"},
    {"tempo", "time"},
    {"tiempo", "time"},
    {"tension", "voltage"},
    {"tensao", "voltage"},
    {"tensione", "voltage"},
    {"trasera", "rear"},
    {"vehiculo", "vehicle"},
    {"veicolo", "vehicle"},
    {"veiculo", "vehicle"},
    {"velocidad", "speed"},
    {"velocidade", "speed"},
    {"velocita", "speed"},
    {"vacio", "vacuum"},
    // Dutch
    {"accuspanning", "battery voltage"},
    {"gasklep", "throttle"},
    {"gasklepstand", "throttle"},
    {"inlaatdruk", "intake pressure"},
    {"inlaatluchttemperatuur", "intake air temperature"},
    {"inlaattemperatuur", "intake temperature"},
    {"inspuittijd", "injection time"},
    {"koelvloeistof", "coolant"},
    {"koelvloeistoftemperatuur", "coolant temperature"},
    {"koelwatertemperatuur", "coolant temperature"},
    {"motortoerental", "rpm"},
    {"toerental", "rpm"},
    {"rijsnelheid", "vehicle speed"},
    {"snelheid", "speed"},
    {"spruitstukdruk", "manifold pressure"},
    {"temperatuur", "temperature"},
    {"tijd", "time"},
    {"spanning", "voltage"},
    {"luchtmassa", "air mass"},
    {"ontstekingstijdstip", "ignition timing"},
    // Swedish, Danish, Norwegian
    {"batterispanning", "battery voltage"},
    {"batterispaending", "battery voltage"},
    {"fart", "speed"},
    {"gasspjall", "throttle"},
    {"spjall", "throttle"},
    {"hastighed", "speed"},
    {"hastighet", "speed"},
    {"insprutningstid", "injection time"},
    {"insugstryck", "intake pressure"},
    {"insugstemperatur", "intake temperature"},
    {"insugsluft", "intake air"},
    {"kylvatska", "coolant"},
    {"kylvatsketemperatur", "coolant temperature"},
    {"kylvatten", "coolant"},
    {"kylvattentemperatur", "coolant temperature"},
    {"kolevaeske", "coolant"},
    {"luftmassa", "air mass"},
    {"motorvarv", "rpm"},
    {"motorvarvtal", "rpm"},
    {"omdrejninger", "rpm"},
    {"omdreininger", "rpm"},
    {"tandning", "ignition"},
    {"tid", "time"},
    {"tryck", "pressure"},
    {"turtall", "rpm"},
    {"turtal", "rpm"},
    {"varvtal", "rpm"},
    // Polish, Czech
    {"akumulatora", "battery"},
    {"chladici", "coolant"},
    {"kapaliny", ""},
    {"chlodzacego", "coolant"},
    {"chlodzacej", "coolant"},
    {"cieczy", ""},
    {"cisnienie", "pressure"},
    {"czas", "time"},
    {"dolocie", "intake"},
    {"dolotowego", "intake"},
    {"dolotowym", "intake"},
    {"kolektora", "manifold"},
    {"kolektorze", "manifold"},
    {"napiecie", "voltage"},
    {"nasavaneho", "intake"},
    {"obroty", "rpm"},
    {"otacky", "rpm"},
    {"paliwa", "fuel"},
    {"plynu", ""},
    {"powietrza", "air"},
    {"predkosc", "speed"},
    {"przepustnica", "throttle"},
    {"przepustnicy", "throttle"},
    {"polozenie", "position"},
    {"pojazdu", "vehicle"},
    {"rychlost", "speed"},
    {"silnika", "engine"},
    {"silnik", "engine"},
    {"ssacym", "intake"},
    {"teplota", "temperature"},
    {"tlak", "pressure"},
    {"wtrysku", "injection"},
    {"vzduchu", "air"},
    {"zaplonu", "ignition"},
    {"kat", "angle"},
});

// Articles and small words of all these languages.
constexpr auto kSmall = std::to_array<std::string_view>(
    {"de",  "du",   "des", "la",  "le",  "les", "l",   "d",   "del",  "della",  "dell",
     "di",  "do",   "da",  "dos", "das", "der", "die", "el",  "il",   "en",     "im",
     "van", "het",  "av",  "i",   "au",  "al",  "a",   "w",   "na",   "et",     "und",
     "och", "dans", "par", "por", "per", "aan", "op",  "ist", "wert", "istwert"});

// The base letters of U+00C0..U+017F; '?' where there is none.
constexpr std::string_view kLatin1 =
    "aaaaaaaceeeeiiiidnooooo?ouuuuy?saaaaaaaceeeeiiiidnooooo?ouuuuy?y";
constexpr std::string_view kLatinExtended =
    "aaaaaaccccccccddddeeeeeeeeeegggggggghhhhiiiiiiiiiiiijjkkklllllll"
    "lllnnnnnnnnnoooooooorrrrrrssssssssttttttuuuuuuuuuuuuwwyyyzzzzzzs";
static_assert(kLatin1.size() == 64);
static_assert(kLatinExtended.size() == 128);

const Word* find(std::string_view word) {
  const auto at = std::ranges::find(kWords, word, &Word::foreign);
  return at == kWords.end() ? nullptr : &*at;
}

void add_words(std::string_view text, std::vector<std::string>& out) {
  while (!text.empty()) {
    const auto blank = text.find(' ');
    const std::string_view word = text.substr(0, blank);
    if (std::ranges::find(out, word) == out.end()) out.emplace_back(word);
    text.remove_prefix(blank == std::string_view::npos ? text.size() : blank + 1);
  }
}

}  // namespace

std::string folded(std::string_view word) {
  std::string out;
  for (std::size_t i = 0; i < word.size(); ++i) {
    const auto lead = static_cast<unsigned char>(word[i]);
    const unsigned next =
        i + 1 < word.size() ? static_cast<unsigned char>(word[i + 1]) & 0x3FU : 0U;
    char base = '?';
    if (lead == 0xC3) base = kLatin1[next];
    if (lead == 0xC4 || lead == 0xC5) base = kLatinExtended[(lead - 0xC4U) * 64 + next];
    if (lead >= 0xC3 && lead <= 0xC5 && i + 1 < word.size() && base != '?') {
      if (lead == 0xC3 && next == 0x1F) out += 's';  // sharp s is two
      out += base;
      ++i;
    } else {
      out += static_cast<char>(lead < 0x80 ? std::tolower(lead) : lead);
    }
  }
  return out;
}

std::vector<std::string> in_english(const std::vector<std::string>& words, std::string& note) {
  std::vector<std::string> out;
  std::vector<std::string> small;
  for (const std::string& word : words) {
    const std::string plain = folded(word);
    if (std::ranges::find(kSmall, std::string_view(plain)) != kSmall.end()) {
      small.push_back(plain);
      continue;
    }
    const Word* known = find(plain);
    if (known == nullptr) {
      out.push_back(plain);
      continue;
    }
    if (known->english != plain) {
      note += fmt::format("; \"{}\" is \"{}\"", word, known->english);
    }
    add_words(known->english, out);
  }
  return out.empty() ? small : out;
}

}  // namespace fuelwright::signals
