// Honest files in the languages of the trade.
#include <array>
#include <utility>

#include "tests/corpus/corpus.h"

namespace fuelwright::corpus {
namespace {

// Time, engine speed, pressure, throttle, coolant, intake air, lambda, pulse width, battery, speed.
using Names = std::array<const char*, 10>;

HonestFile named(const std::string& name, const Names& names, char separator) {
  Draft d = usual_draft();
  d.style.separator = separator;
  d.style.decimal_comma = separator == ';';
  d.clock_header = std::string(names[0]) + " (s)";
  for (std::size_t i = 0; i < d.columns.size(); ++i) d.columns[i].header = names[i + 1];
  return d.file(name);
}

}  // namespace

std::vector<HonestFile> honest_names() {
  return {
      named("english.csv",
            {"Time", "Engine Speed", "Manifold Absolute Pressure", "Throttle Position",
             "Coolant Temperature", "Intake Air Temperature", "Wideband Lambda",
             "Injector Pulse Width", "Battery Voltage", "Vehicle Speed"},
            ','),
      named("english_camel.csv",
            {"logTime", "engineRpm", "manifoldPressure", "throttlePosition", "coolantTemp",
             "intakeAirTemp", "lambda1", "injectorPulseWidth", "batteryVoltage", "vehicleSpeed"},
            ','),
      named("german.csv",
            {"Zeit", "Motordrehzahl", "Saugrohrdruck", "Drosselklappenstellung",
             "K\xC3\xBChlmitteltemperatur", "Ansauglufttemperatur", "Lambdawert", "Einspritzzeit",
             "Batteriespannung", "Fahrzeuggeschwindigkeit"},
            ';'),
      named("german_plain.csv",
            {"Zeit", "Drehzahl", "Saugrohrdruck", "Drosselklappe", "Kuehlwassertemperatur",
             "Ansaugtemperatur", "Lambda", "Einspritzdauer", "Bordspannung", "Geschwindigkeit"},
            ';'),
      named("french.csv",
            {"Temps", "R\xC3\xA9gime moteur", "Pression collecteur admission", "Position papillon",
             "Temp\xC3\xA9rature liquide de refroidissement", "Temp\xC3\xA9rature air admission",
             "Lambda", "Temps d'injection", "Tension batterie", "Vitesse v\xC3\xA9hicule"},
            ';'),
      named("spanish.csv",
            {"Tiempo", "Revoluciones del motor", "Presi\xC3\xB3n colector de admisi\xC3\xB3n",
             "Posici\xC3\xB3n de la mariposa", "Temperatura del refrigerante",
             "Temperatura aire de admisi\xC3\xB3n", "Lambda", "Tiempo de inyecci\xC3\xB3n",
             "Tensi\xC3\xB3n bater\xC3\xAD"
             "a",
             "Velocidad del veh\xC3\xAD"
             "culo"},
            ';'),
      named("italian.csv",
            {"Tempo", "Giri motore", "Pressione collettore aspirazione", "Posizione farfalla",
             "Temperatura acqua motore", "Temperatura aria aspirazione", "Lambda",
             "Tempo di iniezione", "Tensione batteria", "Velocit\xC3\xA0 veicolo"},
            ';'),
      named("portuguese.csv",
            {"Tempo", "Rota\xC3\xA7\xC3\xA3o do motor", "Press\xC3\xA3o coletor de admiss\xC3\xA3o",
             "Posi\xC3\xA7\xC3\xA3o da borboleta", "Temperatura do l\xC3\xADquido de arrefecimento",
             "Temperatura do ar de admiss\xC3\xA3o", "Lambda", "Tempo de inje\xC3\xA7\xC3\xA3o",
             "Tens\xC3\xA3o da bateria",
             "Velocidade do ve\xC3\xAD"
             "culo"},
            ';'),
      named("dutch.csv",
            {"Tijd", "Motortoerental", "Spruitstukdruk", "Gasklepstand", "Koelvloeistoftemperatuur",
             "Inlaatluchttemperatuur", "Lambda", "Inspuittijd", "Accuspanning", "Rijsnelheid"},
            ';'),
      named(
          "swedish.csv",
          {"Tid", "Motorvarvtal", "Insugstryck", "Gasspj\xC3\xA4ll", "Kylv\xC3\xA4tsketemperatur",
           "Insugstemperatur", "Lambda", "Insprutningstid", "Batterisp\xC3\xA4nning", "Hastighet"},
          ';'),
      named("polish.csv",
            {"Czas", "Obroty silnika",
             "Ci\xC5\x9Bnienie w kolektorze ss\xC4\x85"
             "cym",
             "Po\xC5\x82o\xC5\xBC"
             "enie przepustnicy",
             "Temperatura p\xC5\x82ynu ch\xC5\x82odz\xC4\x85"
             "cego",
             "Temperatura powietrza dolotowego", "Lambda", "Czas wtrysku",
             "Napi\xC4\x99"
             "cie akumulatora",
             "Pr\xC4\x99"
             "dko\xC5\x9B\xC4\x87 pojazdu"},
            ';'),
  };
}

}  // namespace fuelwright::corpus
