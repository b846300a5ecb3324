#include "advice/dynamic_estimate/live_driving.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "advice/dynamic_estimate/internal/driving_maker.h"

namespace fuelwright::advice {
namespace {

constexpr long kFewRows = 100;  // before them nothing is said about the clock

}  // namespace

class LiveDriving::Inside {
 public:
  Inside(const signals::Recording& first, const car::Sheet& sheet, const car::Surface& start,
         const car::Surface& driven, const ObserveOptions& options, FuelFrom from)
      : sheet_(sheet),
        start_(start),
        driven_(driven),
        name_(first.name),
        maker_(first, sheet_, start_, driven_, options, from) {}

  Status add(const signals::Recording& piece) {
    if (piece.rows == 0) return Done{};
    FW_CHECK(check_times(piece));
    if (piece.segments.empty()) {
      signals::Recording whole = piece;
      whole.segments = {{0, piece.rows, "1"}};
      maker_.add(whole);
    } else {
      maker_.add(piece);
    }
    if (maker_.clock().rows() >= kFewRows && !maker_.clock().regular()) {
      return irregular_clock(name_);
    }
    return Done{};
  }

  Driving from(std::size_t first) {
    handed_ = maker_.settled();
    Driving out = maker_.driving().part(first, handed_);
    if (maker_.needs_law()) std::fill(out.usable.begin(), out.usable.end(), 0);
    if (first == 0) out.notes = maker_.driving().notes;
    return out;
  }
  std::size_t handed() const { return handed_; }
  DrivingMaker& maker() { return maker_; }

 private:
  Status check_times(const signals::Recording& piece) {
    if (piece.time_s.size() != piece.rows) {
      return Error{ErrorCode::bad_input, name_,
                   fmt::format("{} rows came with {} times", piece.rows, piece.time_s.size())};
    }
    for (const double t : piece.time_s) {
      if (!(t > last_s_)) {
        return Error{ErrorCode::bad_input, name_,
                     fmt::format("a row at {:.3f} s came after one at {:.3f} s", t, last_s_)};
      }
      last_s_ = t;
    }
    return Done{};
  }

  car::Sheet sheet_;
  car::Surface start_;
  car::Surface driven_;
  std::string name_;
  DrivingMaker maker_;
  std::size_t handed_ = 0;
  double last_s_ = -HUGE_VAL;
};

LiveDriving::LiveDriving(std::unique_ptr<Inside> inside) : in_(std::move(inside)) {}
LiveDriving::~LiveDriving() = default;
LiveDriving::LiveDriving(LiveDriving&&) noexcept = default;
LiveDriving& LiveDriving::operator=(LiveDriving&&) noexcept = default;

Result<LiveDriving> LiveDriving::begin(const signals::Recording& first, const car::Sheet& sheet,
                                       const car::Surface& start, const car::Surface& driven,
                                       const ObserveOptions& options,
                                       const std::optional<HeldLaw>& law) {
  FW_CHECK(check_pace(first));
  FW_TRY(const FuelFrom from, choose_fuel(first, options, start.grid));
  auto inside = std::make_unique<Inside>(first, sheet, start, driven, options, from);
  if (law && from == FuelFrom::pulse_width_and_target) inside->maker().hold_law(*law);
  FW_CHECK(inside->add(first));
  return LiveDriving(std::move(inside));
}

Status LiveDriving::add(const signals::Recording& piece) { return in_->add(piece); }
Driving LiveDriving::next() { return in_->from(in_->handed()); }
Driving LiveDriving::all() { return in_->from(0); }
bool LiveDriving::needs_law() const { return in_->maker().needs_law(); }
Result<bool> LiveDriving::fit_law() {
  if (in_->maker().driving().fuel_from != FuelFrom::pulse_width_and_target) return false;
  return in_->maker().fit_law();
}

}  // namespace fuelwright::advice
