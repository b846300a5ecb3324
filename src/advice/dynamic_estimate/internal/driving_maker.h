/// Rows of a recording made ready one after another: one place for a whole recording and for one
/// that is still growing.
#pragma once

#include <cmath>
#include <string>
#include <vector>

#include "advice/dynamic_estimate/driving.h"
#include "advice/dynamic_estimate/internal/charge_law.h"

namespace fuelwright::advice {

/// w of (dynamic.2) before driving (from memory).
inline constexpr double kChargeWeight = 0.10;

/// Is the clock regular enough? Counts from one piece to the next.
class RegularClock {
 public:
  void add(double interval_s, double step_s);
  bool regular() const;
  long rows() const { return rows_; }

 private:
  long rows_ = 0;
  long irregular_ = 0;
};

/// What must be so before the first row. Errors as Driving::make().
Status check_pace(const signals::Recording& recording);
Error irregular_clock(const std::string& name);
Result<FuelFrom> choose_fuel(const signals::Recording& recording, const ObserveOptions& options,
                             const car::Grid& grid);

class DrivingMaker {
 public:
  /// Sheet and surfaces must outlive it. `like` has the channels that the rows will have.
  DrivingMaker(const signals::Recording& like, const car::Sheet& sheet, const car::Surface& start,
               const car::Surface& driven, const ObserveOptions& options, FuelFrom from,
               int sensor = 1);

  /// The rows that follow; a second piece goes on with the last segment of the first.
  void add(const signals::Recording& piece);
  /// No row follows: all are settled.
  void end() { settle(true); }
  /// Fits (dynamic.3) to all rows so far and makes them again by it. False: no warm row to fit to.
  /// Errors: conflict, as Driving::make().
  Result<bool> fit_law();
  void hold_law(const HeldLaw& law);
  bool needs_law() const { return d_.fuel_from == FuelFrom::pulse_width_and_target && !d_.law; }

  /// Rows that no later row changes, the law excepted.
  std::size_t settled() const { return settled_; }
  const RegularClock& clock() const { return clock_; }
  const Driving& driving() const { return d_; }
  Driving take() { return std::move(d_); }

 private:
  // A channel whose gaps are filled for a while.
  struct Held {
    signals::Quantity what;
    double otherwise;  // where it is not recorded
    bool recorded = false;
    std::size_t age = 0;
    std::vector<double> si{};
    double operator[](std::size_t row) const { return si[row]; }
  };
  void extend(Held& column, const signals::Recording& piece, std::size_t before);
  void make_room(std::size_t rows);
  void cut(const signals::Recording& piece, std::size_t before);
  bool blank(std::size_t row) const;
  void make_all_rows();
  void make_row(std::size_t row);
  void make_heat(std::size_t row);
  void obey_law(std::size_t row);
  void guess_cut(std::size_t row);
  void settle(bool ended);
  void run_clocks(std::size_t last);
  Status judge_law(const HeldLaw& law, double seconds);
  std::vector<LawRow> law_rows() const;
  Eigen::Vector4d law_column(std::size_t row) const;
  bool pulse_known() const { return d_.fuel_from != FuelFrom::target; }
  car::OperatingPoint point(std::size_t row) const;
  double dead_s(std::size_t row) const;
  double flow_kg_s(std::size_t row) const;
  double air(const car::Surface& table, const car::OperatingPoint& at, std::size_t row) const;
  double heat(double air_kg_s) const;
  double full_air_kg_s() const;
  double lift(std::size_t row) const { return (d_.coolant_k[row] - iat_[row]) / iat_[row]; }

  const car::Sheet& sheet_;
  const car::Surface& start_;
  const car::Surface& driven_;
  ObserveOptions options_;
  int sensor_;
  std::string name_;
  bool by_throttle_;
  Held rpm_, map_, clt_, iat_, target_, correction_, pulse_, battery_, throttle_, baro_;
  std::vector<double> lambda_;
  RegularClock clock_;
  double time_s_ = NAN;      // of the row before
  std::size_t open_ = 0;     // first row of the stretch that may go on
  std::size_t settled_ = 0;  // to here the clocks have run
  double moved_s_ = 0;       // since pressure rose quickly
  double cut_s_ = 0;
  double high_s_ = 0;
  Driving d_;
};

/// Part of the exhaust that passes a mixture sensor (1, 2, ...): that of the cylinders or the bank
/// it names.
double share_of_sensor(const car::Sheet& sheet, int sensor = 1);

}  // namespace fuelwright::advice
