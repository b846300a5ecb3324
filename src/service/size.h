/// The question "can the fuel system feed this engine, and where must it stop?": request and reply.
#pragma once

#include <functional>
#include <optional>
#include <stop_token>
#include <string>
#include <vector>

#include "advice/prediction/fuel_demand.h"
#include "base/units/number.h"
#include "car/build/sheet_file.h"
#include "physics/limits/limits.h"
#include "physics/supply/supply.h"

namespace fuelwright::service {

/// A value of the sheet's section [supply], measured since: "pump_volts", "12.4 V".
struct MeasuredValue {
  std::string key, value;
};

struct SizeRequest {
  std::string job;
  std::optional<PressureStep> boost;    ///< pressure behind the throttle, 1 to 300 kPa
  bool cooler = false;                  ///< the boosted air is cooled
  bool exhaust_driven = false;          ///< the blower is not driven by the crank
  double margin = 0.10;                 ///< that cures must restore, 0..1
  std::vector<MeasuredValue> measured;  ///< kept in the job, in the place of earlier ones
  bool forget_measured = false;         ///< of earlier ones
  int members = 64;                     ///< engines to draw where the job keeps none, 16..512
  std::string who, when;
  int threads = 1;
  std::stop_token stop = {};
  std::function<void(double share)> progress = {};  ///< 0..1; from any thread
};

/// A change in words beside its numbers.
struct SaidCure {
  physics::supply::Cure cure;
  std::string words;  ///< "a pump of 182 l/h instead of 150 l/h at 300 kPa and 13.5 V"
};
struct SaidWorth {
  physics::supply::Worth worth;
  std::string words;
};

/// One recorded pull at full throttle with rail pressure.
struct PullUsed {
  std::int64_t recording = 0;
  std::string name;
  EngineSpeed from{}, to{};
  std::size_t samples = 0;
};

/// A knob of another kind than fuel, and how far it may be turned.
struct SaidLimits {
  physics::limits::RevLimit rev;
  physics::limits::SensorRange map_sensor;
  physics::limits::Electric electric;
  std::optional<advice::KnockRoom> knock;  ///< none where it cannot be computed
  std::vector<std::string> words;          ///< one line a limit, with its reason
  std::vector<std::string> warnings;       ///< what was stated and is less safe; nothing is changed
};

struct SizeReply {
  std::string sentence;  ///< what runs out first, or that it is enough; with chance and margin
  std::vector<std::string> also;  ///< the rest of the answer: each side, idle, vapour, lift pump
  std::string not_known;          ///< what cannot be said, and what to measure; or empty
  UnitSystem units = UnitSystem::metric;
  bool pump_known = false;  ///< false: the sheet says nothing of the pump, nothing was measured
  bool drawn_now = false;   ///< false: the job had this ensemble already
  int members = 0;          ///< engines
  int systems = 0;          ///< fuel systems drawn from the tolerances
  double margin = 0.10;
  std::optional<PressureStep> boost;
  bool cooler = false;
  std::string fuel;  ///< "E10"
  car::MixtureScale scale;
  physics::supply::SupplyAnswer answer;
  std::vector<SaidCure> plan, cures;
  std::vector<SaidWorth> measure_first;
  std::vector<car::Line> typical;  ///< values of the supply that nobody stated
  std::vector<MeasuredValue> measured;
  std::optional<PullUsed> pull;
  SaidLimits limits;
  std::vector<std::string> cautions;
};
/// The ensemble of engines of this sheet is the one of the last prediction, or drawn and kept.
/// Errors: those of draw_engines(), fuel_demand() and size_supply(); out_of_range for a boost or a
/// margin outside its bounds; those of car::read_sheet() for a measured value, naming its key.
Result<SizeReply> size(const SizeRequest& request);

}  // namespace fuelwright::service
