/// What an engine that is not what its sheet says could be: one direction over the map each, for
/// the family test to look along.
///
///   FW_TRY(settings.suspects, draw_suspects(sheet, drawn.places));
///   const Ensemble ensemble(std::move(drawn), settings);        // its family test then sees more
///
/// A part three tolerances off moves VE along another curve than one within its tolerance (a pipe
/// a third shorter moves its resonance by a thousand rpm), so such engines are computed.
#pragma once

#include <vector>

#include "car/build/sheet.h"
#include "physics/breathing/breathing.h"
#include "physics/ensemble/ensemble.h"

namespace fuelwright::physics {

/// The parts that get swapped, worn or mismeasured, each alone and three of its tolerances off
/// either way: pipes, cam, flow, back-pressure, compression. Exactly known parts are left out.
/// Cost: some 26 more members. Errors: those of engine_model() for the sheet itself; conflict if
/// stopped.
Result<std::vector<Suspect>> draw_suspects(const car::Sheet& sheet, const MapPlaces& places,
                                           const MapSettings& settings = {});

/// All directions that a family test looks along: EnsembleSettings::suspects, or in their absence
/// each part's step at z = kMostSteps; runner and intake cam that switch at a speed; air held back
/// between the pressure tap and the valves, by volume flow squared; exhaust held back, by mass flow
/// squared; a level.                                                              (ensemble.14)
std::vector<Suspect> suspects_of(const Ensemble& ensemble);
inline constexpr double kMostSteps = 6;

}  // namespace fuelwright::physics
