/// Drawing engines that could be this one, and computing the air map of each.
///
///   FW_TRY(const Drawn drawn, draw_engines(sheet, {speeds, pressures, surroundings_of(sheet)},
///   {})); const Ensemble ensemble(drawn, {});            // ensemble.h: what follows from them
///
/// Members: every uncertain part drawn at once. Steps: one part alone at z = +1, which says how
/// much each part matters. The centre: all parts as the sheet has them.
#pragma once

#include <Eigen/Core>
#include <cstdint>
#include <optional>
#include <vector>

#include "physics/breathing/breathing.h"
#include "physics/ensemble/uncertain.h"

namespace fuelwright::physics {

/// All that has been computed; what a job keeps (serialise.h).
struct Drawn {
  std::uint64_t seed = 0;
  MapPlaces places;
  std::vector<Part> parts;  ///< the columns of z
  Eigen::MatrixXd z;        ///< [member][part], as used
  AirMap centre;
  std::vector<AirMap> members;
  std::vector<AirMap> steps;    ///< [part]; empty if they were not asked for
  std::optional<AirMap> whole;  ///< the centre again, every cylinder computed; if it was asked for
  int drawn_back = 0;  ///< members that could not be an engine and were moved towards the centre

  std::size_t nodes() const { return places.speeds.size() * places.pressures.size(); }
};

struct DrawSettings {
  int members = 64;
  std::uint64_t seed = 1;
  bool steps = true;
  bool whole = false;  ///< also the whole-engine form of the centre
  /// Instructions, grid, cycles, threads, stop and progress of the maps.
  MapSettings maps = {};
};

/// Errors: those of engine_model() for the sheet itself; out_of_range for fewer than 8 or more than
/// 4096 members, or for places outside what a map may have (200..12,000 rpm, 10..400 kPa,
/// increasing); conflict if it was stopped.
Result<Drawn> draw_engines(const car::Sheet& sheet, const MapPlaces& places,
                           const DrawSettings& settings = {});

}  // namespace fuelwright::physics
