/// A job in a folder of its own, and a virtual car with plain air to drive for it.
#pragma once

#include <gtest/gtest.h>

#include <cmath>

#include "car/build/derived.h"
#include "service/service.h"
#include "sim/virtual_car/test_car.h"

namespace fuelwright::service {

namespace vc = sim::virtual_car;

inline const Who kKim{"Kim", "2026-05-04T09:30:00Z"};

/// Of examples/cycles. These three touch files: test_job_files_test.cc.
vc::Cycle example_cycle(const char* name);
/// A fresh folder; its path.
std::string folder_for_a_test();
void remove_folder(const std::string& folder);

/// Injectors as the sheet says and a sensor of the usual kind, whose gain is right: then the table
/// the car wants is its own air, but for the heat the charge takes up.
inline vc::Truth with_stated_parts(vc::Truth truth, const car::Sheet& sheet) {
  const car::Injection& in = sheet.injection;
  truth.fuel.flow =
      MassFlow{in.injector_flow.si() * std::sqrt(sheet.fuel.density.si() / in.rated_density.si())};
  truth.fuel.dead_time = Duration{in.dead_time.si() - 0.11e-3 * (14 - in.dead_time_voltage.si())};
  truth.fuel.regulator = in.regulator_pressure.value;
  truth.fuel.stoichiometric = sheet.fuel.stoichiometric.si();
  truth.sensor.gain = 1;
  return truth;
}

/// Where two tables differ, over the driven time: rms of ln, the mean left in.
inline double error_where_driven(const car::Surface& table, const car::Surface& truth,
                                 const car::Evidence& e) {
  double sum = 0, weight = 0;
  for (std::size_t i = 0; i < e.seconds.size(); ++i) {
    const double off = std::log(table.values[i] / truth.values[i]);
    sum += e.seconds[i] * off * off;
    weight += e.seconds[i];
  }
  return std::sqrt(sum / weight);
}

class JobTest : public testing::Test {
 protected:
  void SetUp() override {
    folder_ = folder_for_a_test();
    ASSERT_FALSE(folder_.empty());
    job_ = folder_ + "/coupe.fw";
  }
  void TearDown() override { remove_folder(folder_); }

  NewRequest fresh(const std::string& sheet) const {
    return {job_, sheet, "coupe.toml", std::nullopt, std::nullopt, kKim};
  }

  /// A job with a table as found, and a car to drive. `text`: of the truth, beside the seed.
  void start(const std::string& sheet, std::uint64_t seed, const std::string& text = "") {
    sheet_toml_ = sheet;
    sheet_ = *car::read_sheet(sheet, "coupe.toml");
    truth_ = with_stated_parts(vc::test_truth(sheet_, text, seed), sheet_);
    found_ = vc::calibration_as_found(truth_, sheet_, seed);
    wanted_ = vc::true_table(truth_, car::table_grid(sheet_));
    // Water vapour takes room and needs no fuel.
    for (double& v : wanted_.values) v *= vc::dry_share(truth_.weather);
    new_job_with_table(sheet);
  }
  void new_job_with_table(const std::string& sheet) {
    NewRequest request = fresh(sheet);
    request.ve_as_found = TableIn{
        car::write_table(table_found(), car::TableWhat::ve, car::TextForm::tsv, UnitSystem::metric),
        "ve.tsv",
        {}};
    const auto made = new_job(request);
    ASSERT_TRUE(made) << made.error().line();
  }
  const car::Surface& table_found() const { return *found_.find(car::TableWhat::ve); }

  struct Going {
    const char* cycle = "town.csv";
    std::vector<std::string> missing = {};
    std::vector<car::Fault> faults = {};
    double coolant_at_start_degc = 85;
  };
  /// Driven with this VE table in the unit.
  vc::Drive drive(const car::Surface& table, std::uint64_t seed, double minutes,
                  const Going& going) const {
    vc::Truth truth = truth_;
    truth.recorder.missing = going.missing;
    truth.vehicle.coolant_at_start = celsius(going.coolant_at_start_degc);
    car::Calibration unit = found_;
    unit.tables.insert_or_assign(car::TableWhat::ve, table);
    const auto done = vc::drive_car(truth, sheet_, unit,
                                    {.task = example_cycle(going.cycle),
                                     .faults = going.faults,
                                     .seed = seed,
                                     .length = minutes * minute});
    EXPECT_TRUE(done.ok()) << (done.ok() ? "" : done.error().line());
    return *done;
  }
  std::string csv(const car::Surface& table, std::uint64_t seed, double minutes) const {
    return drive(table, seed, minutes, {}).recording;
  }
  std::string csv(const car::Surface& table, std::uint64_t seed, double minutes,
                  const Going& going) const {
    return drive(table, seed, minutes, going).recording;
  }

  AddRequest adding(const std::string& bytes, const std::string& name) const {
    AddRequest request{job_, name, bytes, {}, std::nullopt, kKim};
    request.answers.afr_constant = 14.7;
    return request;
  }
  Result<AddReply> add(const std::string& bytes, const std::string& name = "drive.csv") {
    return add_recording(adding(bytes, name));
  }
  Result<EstimateReply> estimated(bool open_loop = false) {
    return estimate({job_, std::nullopt, open_loop, kKim});
  }

  std::string folder_;
  std::string job_;
  std::string sheet_toml_;
  car::Sheet sheet_;
  vc::Truth truth_;
  car::Calibration found_;
  car::Surface wanted_ = car::Surface::flat({car::Axis::even(car::AxisKind::engine_speed, 0, 1, 2),
                                             car::Axis::even(car::AxisKind::map_absolute, 0, 1, 2)},
                                            0.8);
};

}  // namespace fuelwright::service
