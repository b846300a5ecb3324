/// A build sheet of a production car of about 1993 from three numbers on its data sheet: cylinders,
/// displacement and the speed of its rated power. For the outside check of rated power over many
/// cars.
///
/// FROZEN before any comparison: every rule is common practice (no source) and none has seen the
/// cars it is tried on. (The writer knew the mean rated BMEP of that population, 9.2 bar +- 10 %,
/// and no single car.) Whoever changes one has used up the check. outside_inputs_test.cc holds the
/// answers still.
///
/// - valves: 4 a cylinder if rated above 5,400 rpm, else 2.
/// - cam: intake duration at 0.050 in, +- 8 deg. Two valves: 195 deg at 4,400 rpm and 25 deg more
///   per 1000 rpm, within 185 to 245. Four: 200 deg at 5,000 rpm and 16 deg more, 195 to 245.
/// - runner: tuned to rated speed by the rule of thumb 84,000 in / rpm, 250 to 500 mm, port
///   included; +- 25 %.
/// - exhaust: cast manifold of 350 +- 200 mm; 25 +- 15 kPa at full power (catalyst, silencers).
/// - rev limit: 1.08 of rated speed.
/// - place: 99 kPa, 25 degC (SAE J1349).
///
/// Everything else is the sheet's own typical value.
#pragma once

#include <string>

#include "base/result.h"
#include "car/build/sheet.h"

namespace fuelwright::outside {

std::string sheet_text_from_rating(int cylinders, Volume displacement, EngineSpeed rated);
/// The same, read. Errors: those of read_sheet().
Result<car::Sheet> sheet_from_rating(int cylinders, Volume displacement, EngineSpeed rated);

}  // namespace fuelwright::outside
