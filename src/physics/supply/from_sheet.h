/// From the build sheet to a fuel system, and to what is not known exactly of it.
///
/// Volts that the wiring loses: as found at the pump (or stated), else from the wires that were
/// given, else what such wiring loses. A timed delivery, where one was made, sets the pump's
/// strength: pump, filter and hose together then send what was caught in the can.
#pragma once

#include <functional>
#include <optional>
#include <string>
#include <vector>

#include "car/build/sheet.h"
#include "physics/supply/system.h"

namespace fuelwright::physics::supply {

/// A pump that was timed into a can.
struct Delivery {
  VolumeFlow flow;
  PressureStep rail;  ///< at the rail meanwhile
  Voltage volts;      ///< at the pump meanwhile
};
/// Sets pump.strength so that this system delivers just that.
void set_strength(System& s, const Delivery& measured);

struct Unknown {
  std::string id;                               ///< "pump.flow", "wiring.drop"; never changes
  std::string name;                             ///< "pump flow as rated"
  std::function<void(System&, double z)> move;  ///< z about standard normal
};

struct Supplied {
  System system;  ///< as the sheet has it
  std::vector<Unknown> unknowns;
  std::optional<Delivery> delivery;
  double delivery_share = 0;  ///< 95 % half-width of its flow, share of it
  double strength_sd = 0.05;  ///< of ln pump.strength: what rating or delivery leaves
};

/// The system and what is uncertain of it; errors of car::fuel_named().
Result<Supplied> supply_of(const car::Sheet& sheet);
/// One system that could be this one: z one number for each unknown, and one more for the delivery.
System drawn(const Supplied& from, const std::vector<double>& z);

}  // namespace fuelwright::physics::supply
