/// Breathing: how much fresh air an engine takes in, computed from its parts, crank degree by crank
/// degree.
///
///   FW_TRY(const EngineModel engine, engine_model(sheet, Unstated{}));
///   const AirMap map = air_map(engine, {speeds, pressures, surroundings_of(sheet)}, {});
///   map.node(ix, iy).ve;             // 0.83, referred to manifold pressure and intake temperature
///
/// Unsteady one-dimensional flow in runner, primary and collector pipe, orifices at the valves, one
/// zone in the cylinder. Two forms of one code: one cylinder between a plenum and a collector
/// (fast: maps, ensembles), and the whole engine with every cylinder on shared volumes. Theory:
/// docs/theory/breathing.md.
///
/// Pure: same input, same answer, whatever the instruction set (to 1e-5). No input hangs it: cycles
/// and steps are bounded, and a node that does not settle says so.
#pragma once

#include <functional>
#include <memory>
#include <span>
#include <stop_token>
#include <string>
#include <vector>

#include "base/result.h"
#include "car/build/sheet.h"
#include "physics/breathing/unstated.h"

namespace fuelwright::physics {

/// Where the engine stands while the map is computed.
struct Surroundings {
  AbsolutePressure ambient;
  Temperature intake_air;  ///< in the plenum, where the intake temperature sensor sits
  Temperature coolant = celsius(88);
  double lambda = 0.88;  ///< mixture burnt while the map is computed [-]
};
/// Station pressure and temperature of the sheet's place (intake air as warm as the place plus the
/// usual heating under a bonnet, 10 K; common practice, no source).
Surroundings surroundings_of(const car::Sheet& sheet);

/// One place of the map. All amounts are per cylinder and cycle (the mean of the cylinders in the
/// whole-engine form).
struct AirNode {
  EngineSpeed speed;
  AbsolutePressure map;
  /// Fresh air through the intake valves, net, over p_map V_d/(R_air T_intake) [-] (breathing.1)
  double ve = 0;
  double residual = 0;  ///< burnt share of the mass in the cylinder when the intake valve shuts [-]
  double short_circuit = 0;  ///< share of the fresh air that left through the exhaust unburnt [-]
  Mass trapped_air;          ///< fresh air in the cylinder when the intake valve shuts
  Mass trapped;              ///< all gas then
  AbsolutePressure charge_pressure;  ///< then
  Temperature charge_temperature;    ///< then
  CrankAngle closing;                ///< when that is, after firing top dead centre
  PressureStep
      pumping;  ///< work lost over the exhaust and intake strokes, over V_d (negative if gained)
  PressureStep indicated;  ///< net work of the cycle over V_d, burnt with the nominal timing
  Temperature exhaust;     ///< of the gas leaving the cylinder, mean by enthalpy
  double cylinder_spread =
      0;  ///< largest less smallest VE of the cylinders (whole engine; 0 in the one-cylinder form)
  bool reachable = true;  ///< false: so much burnt gas that it misfires; ve is then no prediction
  bool converged = true;  ///< false: ve had not settled after the last cycle allowed
  int cycles = 0;         ///< computed
};

struct AirMap {
  std::vector<EngineSpeed> speeds;          ///< along x
  std::vector<AbsolutePressure> pressures;  ///< along y
  std::vector<AirNode> nodes;               ///< [y][x], row-major
  long cell_steps = 0;  ///< what it cost: cells of pipe times steps, of every node (of a variant's
                        ///< own lane only)
  const AirNode& node(std::size_t ix, std::size_t iy) const {
    return nodes[iy * speeds.size() + ix];
  }
};

/// The parts of one engine as the model needs them.
class EngineModel {
 public:
  struct Parts;  // internal/parts.h
  explicit EngineModel(std::shared_ptr<const Parts> parts) : parts_(std::move(parts)) {}
  const Parts& parts() const { return *parts_; }

 private:
  std::shared_ptr<const Parts> parts_;
};
/// Errors: out_of_range naming the key of the sheet that cannot be computed with (a port without
/// flow, valves that never open, more than 12 cylinders).
Result<EngineModel> engine_model(const car::Sheet& sheet, const Unstated& unstated = {});

enum class InstructionSet { scalar, sse2, avx2, avx512 };
const char* name_of(InstructionSet set);
/// The best this machine can run.
InstructionSet best_instruction_set();

struct MapPlaces {
  std::vector<EngineSpeed> speeds;          ///< 200..12,000 rpm, increasing
  std::vector<AbsolutePressure> pressures;  ///< 10..400 kPa, increasing
  Surroundings surroundings;
};

struct MapSettings {
  InstructionSet instructions = best_instruction_set();
  Length grid = 30.0 * mm;  ///< cell length at 3200 rpm and above; longer below (breathing.12)
  int most_cycles = 24;     ///< a node that has not settled then is not converged
  int threads = 1;
  std::stop_token stop = {};  ///< asked between rows; what is not computed is not converged
  std::function<void(double share)> progress = {};  ///< 0..1, from any thread
};

/// The one-cylinder form at every place.
AirMap air_map(const EngineModel& engine, const MapPlaces& places,
               const MapSettings& settings = {});
/// The same for many variants of one engine, lane by lane (same places; the variants may differ in
/// every part, but not in the number of cylinders or in which of them share a plenum or collector).
std::vector<AirMap> air_maps(std::span<const EngineModel> engines, const MapPlaces& places,
                             const MapSettings& settings = {});

/// The whole-engine form: every cylinder, the plenum with its throttle and duct, the manifold as
/// arranged. A pressure that the open throttle cannot give is reached by raising the pressure
/// before the throttle.
AirMap whole_engine_map(const EngineModel& engine, const MapPlaces& places,
                        const MapSettings& settings = {});

}  // namespace fuelwright::physics
