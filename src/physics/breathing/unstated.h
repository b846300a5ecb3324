/// What a build sheet does not say but breathing needs: structure, losses and heat. Each has a
/// typical value and a spread; whoever draws engines draws these too.
///
/// Where a value comes from stands beside it. `seen` names measured data the value has been chosen
/// on: such data is no independent check of it.
#pragma once

#include <span>

namespace fuelwright::physics {

struct Unstated {
  double low_lift_flow =
      0.87;  ///< factor on the flow at low lift, fades out by lift/diameter 0.10..0.25 [-]
  double reverse_flow =
      0.85;  ///< factor on the flow of both valves against their usual direction [-]
  double lost_motion_m =
      0.00020;  ///< at the valve, of a hydraulic or pushrod train (half of it with direct tappets)
  double gas_exchange_heat = 1.5;   ///< factor on Woschni while a valve is open [-]
  double closed_heat = 1.0;         ///< factor on Woschni while both are shut [-]
  double port_heat = 3.0;           ///< factor on pipe wall heat within 0.1 m of a valve [-]
  double intake_heat = 1.3;         ///< factor on the runner's wall heat by Reynolds' analogy [-]
  double exhaust_heat = 1.5;        ///< the same of the exhaust [-]
  double intake_friction = 0.009;   ///< Fanning friction factor [-]
  double exhaust_friction = 0.009;  ///< [-]
  double entry_loss = 0.6;          ///< of the runner's mouth, dynamic heads [-]
  double intake_wall_k = 360;       ///< [K]
  double exhaust_wall_k = 800;      ///< at 3000 rpm and full load; see (breathing.10) [K]
  double fuel_vapour = 0.6;         ///< share of the fuel that is vapour when the valve shuts [-]
  double vapour_cooling = 0.15;     ///< share of its heat of evaporation taken from the air [-]
  double blow_by = 0.007;           ///< share of the charge lost past the rings [-]
  double burn_limit = 0.38;         ///< residual share at which burning begins to be incomplete [-]
  double burn_fade = 0.24;          ///< width from there to none at all [-]
  double collector_length_factor = 1;  ///< on the sheet's collector length [-]
  double tail_damping =
      0.5;  ///< how little the pipe after the collector sends back: 0 an open end, 1 nothing [-]
  double inlet_closing_deg = 0;       ///< the intake flank closes later by this [deg]
  double lobe_shape = 0;              ///< fuller (+1) or leaner (-1) flank than usual [-]
  double wall_temperature_swing = 1;  ///< how much wall temperatures follow load, of the usual [-]

  friend bool operator==(const Unstated&, const Unstated&) = default;
};

/// One of them: its name for people, where it stands, its 95 % half-width, and what it has seen.
struct UnstatedSpread {
  const char* name;
  double Unstated::* at;
  double half_width;
  bool as_factor;  ///< half_width is of the logarithm
  const char* source;
  const char* seen;  ///< measured data it was chosen on; "" if none
};
std::span<const UnstatedSpread> unstated_spreads();

}  // namespace fuelwright::physics
