// Typical values of what a sheet does not say: their 95 % half-widths, sources, and the data they
// have seen.
#include "physics/breathing/unstated.h"

namespace fuelwright::physics {
namespace {

constexpr const char* kMemory = "from memory";
constexpr const char* kPractice = "common practice, no source";
constexpr const char* kResiduals =
    "residual fractions of the correlation of Fox, Cheng and Heywood, SAE 931025 (from memory)";
// Not sized by the curve, but put into the model after it had come out too high.
constexpr const char* kAddedAfter =
    "added, not sized, after the full-load curve of a 1.9-litre twin-cam four";
constexpr const char* kFullLoad = "full-load curve of a 1.9-litre twin-cam four";

}  // namespace

std::span<const UnstatedSpread> unstated_spreads() {
  using U = Unstated;
  static const UnstatedSpread kAll[] = {
      {"flow at low lift", &U::low_lift_flow, 0.10, false,
       "curtain coefficients of 0.65 on benches (from memory) over 0.75 assumed", kResiduals},
      {"flow backwards through the valves", &U::reverse_flow, 0.20, false,
       "reverse coefficients and shrouding by the piston (from memory)", kResiduals},
      {"lost motion of the valve train [m]", &U::lost_motion_m, 0.00010, false, kPractice,
       kResiduals},
      {"cylinder heat during gas exchange", &U::gas_exchange_heat, 0.5, false,
       "Woschni's coefficients for gas exchange (from memory)", kResiduals},
      {"cylinder heat, valves shut", &U::closed_heat, 0.25, true,
       "scatter of Woschni's correlation (from memory)", ""},
      {"heat near the valves", &U::port_heat, 0.6, true, "port heat transfer studies (from memory)",
       kResiduals},
      {"intake wall heat", &U::intake_heat, 0.4, true,
       "Reynolds' analogy and its scatter (from memory)", kFullLoad},
      {"exhaust wall heat", &U::exhaust_heat, 0.4, true,
       "Reynolds' analogy and its scatter (from memory)", ""},
      {"intake friction", &U::intake_friction, 0.003, false,
       "rough cast pipes, 0.006 to 0.012 (from memory)", kFullLoad},
      {"exhaust friction", &U::exhaust_friction, 0.003, false, "as the intake's", ""},
      {"entry loss of the runners", &U::entry_loss, 0.35, false,
       "0.3 with a rounded mouth to 1 with a sharp one and a bend (from memory)", kFullLoad},
      {"intake wall [K]", &U::intake_wall_k, 15, false,
       "between the coolant and the air under a bonnet; common "
       "practice, no source",
       kFullLoad},
      {"exhaust wall [K]", &U::exhaust_wall_k, 120, false, kMemory, ""},
      {"fuel that is vapour", &U::fuel_vapour, 0.3, false, "warm port injection (from memory)",
       kAddedAfter},
      {"cooling by the fuel", &U::vapour_cooling, 0.12, false,
       "most fuel is dried by the port's wall (from memory)", ""},
      {"blow-by", &U::blow_by, 0.004, false, "0.5 to 1 % of the charge (from memory)", kAddedAfter},
      {"residual where burning fades", &U::burn_limit, 0.04, false,
       "dilution limits of engines (from memory)", kResiduals},
      {"width of that fading", &U::burn_fade, 0.06, false,
       "dilution limits of engines (from memory)", kResiduals},
      {"collector length", &U::collector_length_factor, 0.25, true, kPractice, ""},
      {"damping after the collector", &U::tail_damping, 0.4, false, kPractice, ""},
      {"intake closing [deg]", &U::inlet_closing_deg, 6, false,
       "stretch of the drive and bounce of the valve; common practice, no source", kFullLoad},
      {"shape of the lobe's flanks", &U::lobe_shape, 1, false,
       "between slow and fast ramps; common practice, no source", ""},
      {"how walls follow load", &U::wall_temperature_swing, 0.5, false, kMemory, ""},
  };
  return kAll;
}

}  // namespace fuelwright::physics
