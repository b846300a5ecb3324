/// A recording made ready for the dynamic estimate: fuel leaving the injectors and air by the start
/// table, moment by moment on a regular clock.
///
///   u = N s q (PW - d0(V) - dd) n / 120,   q = q_ref sqrt(dp / dp_ref rho / rho_ref) (dynamic.1)
///   air = VE p V_d n / (120 R T_c),   T_c = T_i + w h (T_cool - T_i),
///   h = min((m_ref / m)^1/2, 3)                                                      (dynamic.2)
///
/// N injectors, s squirts a cycle, d0 dead time, dd its offset (estimated), n rpm, T_i intake air,
/// m air flow, m_ref that at 2000 rpm and 50 kPa. h: heat taken up in a pipe falls with a small
/// power of the flow (turbulent pipe flow, textbook; the power is a round figure).
///
/// Where the recording has pulse width, target and correction together, the unit's own air is read
/// from them, u AFR_st target / (1 + correction), and its charge-temperature law is fitted; then
/// the answer compares with the unit's table and needs no law of ours. What the fit leaves over is
/// enrichment, and stays in u. Theory: docs/theory/dynamic_estimate.md.
#pragma once

#include <array>
#include <optional>
#include <string>
#include <vector>

#include "advice/map_estimate/observe.h"

namespace fuelwright::advice {

/// What the fuel of a recording was taken from, best first.
enum class FuelFrom {
  pulse_width_and_target,  ///< relative to the unit's table
  target,                  ///< relative; fuel rebuilt from table, target, correction
  pulse_width,             ///< absolute: its level is uncertain (level_sd())
};

/// The unit's charge-temperature law and dead-time law against ours, of (dynamic.3).
struct HeldLaw {
  std::array<double, 4> c{};  ///< c0 .. c3: [-], [-], [-], [s/V]
  double spread = 0;          ///< robust standard deviation about it [-]
  /// ln of fuel by pulse width over fuel by table and target, at the middle of the drive, less the
  /// charge heating usual there (dynamic.2): c0 alone is an extrapolation to no heat.
  double level = 0;
};

/// Columns run over the rows of the recording; a value that a row lacks is held from the row
/// before.
struct Driving {
  FuelFrom fuel_from = FuelFrom::target;
  double step_s = 0.05;
  double stoichiometric = 14.7;  ///< air per fuel, by mass [-]
  double sensor_share = 1;       ///< of the exhaust, that passes the mixture sensor [-]
  double bank_side = 0;          ///< the sensor sees the first bank (1), the second (-1), all (0)
  double weight = 1;             ///< of its rows: 1/2 where another sensor saw the same driving
  double heating_held = 0;       ///< charge weight already in air_kg_s (w comes on top) [-]
  struct Stretch {
    std::size_t first = 0;
    std::size_t last = 0;  ///< one past the end
  };
  std::vector<Stretch> stretches;  ///< without a break in time

  std::vector<double> fuel_kg_s;   ///< u at dd = 0; 0 in a fuel cut
  std::vector<double> dead_kg_s2;  ///< -du/d(dd): flow of the open injectors times their duty
  std::vector<double> air_kg_s;    ///< by the start table
  std::vector<double> heating;     ///< d ln(air)/dw, the reference temperatures' own taken off [-]
  std::vector<double> rpm, map_pa, coolant_k;
  std::vector<double> reading_ln;  ///< ln(lambda read); NaN where it says nothing
  std::vector<double> idle;        ///< 0..1: how much overlap and dilution bias the reading [-]
  std::vector<double> exhaust_pa;  ///< before the collector, above ambient, by the sheet
  std::vector<double> since_cut_s;
  std::vector<double> high_load_s;  ///< how long load has been high without a break
  std::vector<char> usable;         ///< 1: warm, running, nothing known against it
  std::vector<car::NodeShares> at;  ///< where the table is looked up
  std::vector<std::string> notes;   ///< for people
  bool goes_on = false;             ///< a piece whose first stretch goes on from the rows before
  std::optional<HeldLaw> law;       ///< that the air holds to; the unit's own, as fitted or held
  double law_level = 0;   ///< ln(fuel by pulse width / fuel by the unit's table), steady [-]
  double law_spread = 0;  ///< robust sd of half-second means about the fitted law [-]

  std::size_t rows() const { return rpm.size(); }
  /// Rows first..last as a piece.
  Driving part(std::size_t first, std::size_t last) const;
  /// The rows that follow. Fuel, step, ratio and share must be these (a broken contract otherwise),
  /// unless there are no rows yet.
  void append(const Driving& piece);

  /// `driven`: the table in the unit, start where it is the same. Tables must be positive.
  /// Errors: not_found if the clock is not regular (then the static form is the one to use), if a
  /// channel is missing, or if the user asked for a way that has no dynamics (trims, metered air);
  /// needs_answer as Observer::make(); conflict if pulse width and target contradict each other.
  static Result<Driving> make(const signals::Recording& recording, const car::Sheet& sheet,
                              const car::Surface& start, const car::Surface& driven,
                              const ObserveOptions& options);
  /// The same for every mixture sensor of the sheet that the recording has a channel of (lambda of
  /// bank 1, 2, ...): one Driving each, of half the weight where there are two.
  static Result<std::vector<Driving>> of_sensors(const signals::Recording& recording,
                                                 const car::Sheet& sheet,
                                                 const car::Surface& start,
                                                 const car::Surface& driven,
                                                 const ObserveOptions& options);
};

}  // namespace fuelwright::advice
