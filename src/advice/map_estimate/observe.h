/// What a recording says about the table, row by row: the step from channels to samples.
///
/// Four ways, each row used once and by one way only, so that nothing is counted twice:
///
///   correction   y = ln(lambda / target) + ln(1 + correction) (observe.1) pulse width  y = ln(VE /
///   table),  VE = lambda AFR_st m_f 120 R T / (p V_d n)          (observe.2)
///                m_f = N s q (PW - d0) n / 120,  q = q_ref sqrt(dp / dp_ref * rho / rho_ref)
///                (observe.3)
///   trims        y = ln(1 + short) + ln(1 + long), where the unit holds lambda 1 (observe.4)
///   metered air  y = ln(VE / table),  VE = m_air 120 R T / (p V_d n) (observe.5)
///
/// n rpm, p manifold pressure absolute, V_d displacement, T intake air, N injectors, s squirts per
/// cycle, d0 dead time, dp pressure across the nozzle. Positive y: the engine takes more air than
/// the table says, so it needs more fuel. Sign by hand: table 0.80, truth 0.88, open loop: lambda
/// reads 1.10 times its target and y = +0.0953.
///
/// Correction and trims compare with the table the unit runs on: they need that table, or they give
/// a table of factors. Source: speed-density air flow, Heywood 1988, section 2.10; injector
/// square-root law (exact). docs/theory/map_estimate.md.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "advice/map_estimate/dilution.h"
#include "advice/map_estimate/estimate.h"
#include "base/result.h"
#include "car/build/sheet.h"
#include "signals/channels/channel.h"

namespace fuelwright::advice {

enum class Way { correction, pulse_width, trims, metered_air };
/// "correction", "pulse-width", "trims", "air".
const char* name_of(Way way);
Result<Way> way_named(std::string_view name);
/// True if y is relative to the table in the unit, not to an absolute VE.
bool is_relative(Way way);
/// How well the level of this way is known, one standard deviation of ln [-] (common practice, no
/// source): correction and trims compare with the unit's own table and have none; pulse width does
/// not know the unit's charge-temperature law; an air meter sits in an intake it was not made for.
double level_sd(Way way);
/// "mixture against target with the closed-loop correction", for people.
const char* describe(Way way);

struct ObserveOptions {
  std::optional<Way>
      way;  ///< chosen by the user; otherwise the first in the order above that can be had
  bool open_loop = false;          ///< the user says: the unit ran without closed-loop correction
  Temperature warm = celsius(70);  ///< below this coolant temperature rows are set aside
  /// Rows slower than this are set aside; default: four fifths of the sheet's idle speed, below
  /// which an engine starts, stalls or is caught between two polls.
  std::optional<EngineSpeed> slowest;
};

/// Rows that teach nothing, and why.
struct SetAside {
  std::string reason;  ///< "engine not warm (coolant below 70 degC)"
  long rows = 0;
  double seconds = 0;
};

/// A recording as the estimate sees it. Recording, sheet and table are not copied: they must
/// outlive it.
class Observer {
 public:
  /// Errors: needs_answer if something must be known that the recording does not say (which way;
  /// whether the unit ran open loop); not_found if no way can be had, naming what is missing.
  static Result<Observer> make(const signals::Recording& recording, const car::Sheet& sheet,
                               const car::Surface& table, const ObserveOptions& options);

  Way way() const { return way_; }
  std::string how() const;  ///< one sentence: what was used, with figures
  const std::vector<SetAside>& set_aside() const { return set_aside_; }
  const std::vector<std::string>& notes() const { return notes_; }
  double seconds_total() const { return seconds_total_; }
  double seconds_used() const { return seconds_used_; }

  /// Calls back once for every row that teaches. `first_run`, `first_stretch`: numbers from which
  /// this recording counts its own, so that several recordings can be joined.
  void each(int instrument, int first_run, int first_stretch,
            const std::function<void(const Sample&)>& f) const;
  int runs() const { return runs_; }
  int stretches() const { return stretches_; }

 private:
  struct Channels {
    const signals::Channel* rpm = nullptr;
    const signals::Channel* map = nullptr;
    const signals::Channel* throttle = nullptr;
    const signals::Channel* coolant = nullptr;
    const signals::Channel* intake_air = nullptr;
    const signals::Channel* lambda = nullptr;
    const signals::Channel* target = nullptr;
    const signals::Channel* correction = nullptr;
    const signals::Channel* pulse_width = nullptr;
    const signals::Channel* battery = nullptr;
    const signals::Channel* short_trim = nullptr;
    const signals::Channel* long_trim = nullptr;
    const signals::Channel* maf = nullptr;
    const signals::Channel* baro = nullptr;
    const signals::Channel* commanded = nullptr;
  };
  Observer(const signals::Recording& recording, const car::Sheet& sheet, const car::Surface& table,
           const ObserveOptions& options);
  static Channels channels_of(const signals::Recording& recording);
  Status choose_way();
  Status check_map_moves() const;
  std::string missing_for(Way way) const;
  void find_moving();
  void walk(const std::function<void(std::size_t row, const Sample&)>& f,
            std::vector<SetAside>* aside) const;
  const char* unusable(std::size_t row, double& free_air_until) const;
  bool flames_go_out(std::size_t row, double rpm) const;
  std::optional<double> y_at(std::size_t row, const car::OperatingPoint& at) const;
  std::optional<double> ve_from_fuel(std::size_t row, const car::OperatingPoint& at) const;
  double ve_of_air(double air_kg_s, std::size_t row, const car::OperatingPoint& at) const;
  car::OperatingPoint point_at(std::size_t row) const;
  double warmth_at(std::size_t row) const;
  double noise_at(std::size_t row, const car::OperatingPoint& at) const;
  double seconds_of_row() const;

  const signals::Recording* recording_;
  const car::Sheet* sheet_;
  const car::Surface* table_;
  ObserveOptions options_;
  Dilution dilution_;
  Channels c_;
  Way way_ = Way::correction;
  std::vector<float> moving_;  ///< [row] how much the engine was moving around it, in ln
  std::vector<SetAside> set_aside_;
  std::vector<std::string> notes_;
  double seconds_total_ = 0;
  double seconds_used_ = 0;
  int runs_ = 0;
  int stretches_ = 0;
};

}  // namespace fuelwright::advice
