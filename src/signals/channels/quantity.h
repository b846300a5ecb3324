/// What a column of a recording measures: one closed list, with what each can be.
///
/// Every quantity has a name for options and JSON ("rpm"), a label for people ("engine speed"), the
/// kind of its unit, the unit that the trade or SAE J1979 gives it, and the range outside of which
/// it cannot be that quantity. Ranges are common practice of the trade, wide on purpose: they
/// refuse a coolant of 4000 degC, they do not judge a sensor.
#pragma once

#include <optional>
#include <span>
#include <string>
#include <string_view>

#include "base/units/number.h"

namespace fuelwright::signals {

enum class Quantity {
  time,        ///< s, of the logger
  run_time,    ///< s since the engine started, kept by the engine computer
  rpm,         ///< rpm
  map,         ///< Pa, absolute, in the intake manifold
  maf,         ///< kg/s of air as metered
  throttle,    ///< share 0..1 of the sensor's travel
  coolant,     ///< K
  intake_air,  ///< K
  lambda,  ///< measured by a mixture sensor; an AFR reading arrives here divided by its constant
  target,  ///< lambda that the engine computer aims at
  correction,            ///< relative change of fuel by closed loop: +0.05 is 5 % more fuel
  short_trim,            ///< the same, short-term fuel trim of SAE J1979
  long_trim,             ///< the same, long-term
  warm_up,               ///< the same, extra fuel of a cold engine
  pulse_width,           ///< s, of one injection, as commanded
  duty,                  ///< share 0..1 of the time that an injector is open
  commanded_ratio,       ///< lambda that SAE J1979 calls "fuel-air commanded equivalence ratio"
  battery,               ///< V
  speed,                 ///< m/s, of the car
  baro,                  ///< Pa, absolute, ambient
  spark,                 ///< rad before top dead centre
  engine_load,           ///< share, as SAE J1979 calculates it
  gear,                  ///< number
  fuel_pressure,         ///< Pa above ambient
  fuel_flow,             ///< m3/s
  ambient_air,           ///< K
  oil_temperature,       ///< K
  catalyst_temperature,  ///< K
  oxygen_voltage,        ///< V of a narrow-band sensor: says rich or lean, not how much
  throttle_other,        ///< share: a second track, the commanded or the relative position
  pedal,                 ///< share
  fuel_level,            ///< share
  purge,                 ///< share, evaporative purge valve as commanded
  ethanol,               ///< share by volume
  counter,     ///< bookkeeping of the engine computer (time or distance since a fault, warm-ups)
  segment,     ///< number of the drive or run that a row belongs to
  row_number,  ///< counts rows
  other,       ///< anything else; kept as found
};

struct QuantityInfo {
  Quantity what;
  const char* name;   ///< "coolant", as written in options and JSON
  const char* label;  ///< "coolant temperature", for people
  Kind kind;          ///< of its unit
  const char* unit;   ///< the usual unit where a header gives none (SAE J1979, or the whole trade)
  double lowest;      ///< SI; a value outside lowest..highest cannot be this quantity
  double highest;
  bool needed;  ///< the fuel-table work uses it, so what is unclear about it is asked
};

/// All quantities, in the order of the enum.
std::span<const QuantityInfo> quantities();
const QuantityInfo& info(Quantity what);
/// The unit in which people read it: of shares percent, of pulse widths ms, of mixtures none
/// (lambda), else that of its kind.
UnitInfo shown_unit(Quantity what, Kind kind, UnitSystem system);
/// By its name ("map"), without case.
std::optional<Quantity> find_quantity(std::string_view name);
/// "rpm, map, maf, ...", for messages.
std::string quantity_names();

}  // namespace fuelwright::signals
