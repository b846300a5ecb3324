/// Faults: what can be wrong with a car, from when and how badly. A plain value.
///
///   FW_TRY(const Fault leak, read_fault("vacuum_leak@120:0.5"));      // from 120 s on, half as
///   bad
///
/// Severity goes from 0 (nothing) to 1; what 1 means stands in all_faults(): about the worst with
/// which a car is still driven (common practice, no source).
#pragma once

#include <span>
#include <string>
#include <string_view>

#include "base/result.h"
#include "base/units/quantity.h"

namespace fuelwright::car {

enum class FaultKind {
  vacuum_leak,        ///< air past the throttle: more air at idle than the plate lets in
  exhaust_leak,       ///< fresh air drawn in before the sensor, most at light load
  dead_injector,      ///< one cylinder gets less fuel, none at 1
  clogged_injectors,  ///< all flow less
  weak_pump,          ///< rail pressure sags at high flow
  lazy_sensor,        ///< mixture sensor slower
  drifting_sensor,    ///< mixture sensor reads ever leaner
  stuck_map,          ///< manifold pressure reading follows only in part
  map_offset,         ///< manifold pressure reading too high
  coolant_sensor,     ///< coolant reading too cold
  intake_sensor,      ///< intake air reading too hot
  misfire,            ///< some cycles do not burn
  low_battery,        ///< less voltage
};

struct FaultWords {
  FaultKind kind;
  const char* name;      ///< "vacuum_leak"
  const char* at_worst;  ///< what severity 1 means
};
std::span<const FaultWords> all_faults();
const char* name_of(FaultKind kind);

struct Fault {
  FaultKind kind = FaultKind::vacuum_leak;
  Duration from{};      ///< after the start of the drive, 0..36,000 s
  double severity = 1;  ///< 0..1
  friend bool operator==(const Fault&, const Fault&) = default;
};

/// "KIND@SECONDS:SEVERITY"; without "@SECONDS" from the start, without ":SEVERITY" at 1. Errors:
/// bad_input naming the known kinds or what cannot be read as a number; out_of_range.
Result<Fault> read_fault(std::string_view text);
/// "vacuum_leak@120:0.5"; read_fault() of it gives an equal fault.
std::string write_fault(const Fault& fault);

}  // namespace fuelwright::car
