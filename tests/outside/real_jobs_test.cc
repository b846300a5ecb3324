// Whole jobs on real recordings, through the only door.
#include <gtest/gtest.h>
#include <unistd.h>

#include <cstdlib>
#include <filesystem>

#include "service/service.h"

namespace fuelwright::service {
namespace {

constexpr const char* kSmallCar = R"(
[engine]
displacement = "1.229 l"
cylinders = 4
[cam]
intake_duration_050 = "196 deg"
[injection]
injector_flow = "120 cc/min at 3.8 bar"
[fuel]
name = "E5"
)";

class OutsideRealJobs : public testing::Test {
 protected:
  void SetUp() override {
    const char* folder = std::getenv("FUELWRIGHT_OUTSIDE_DATA");
    if (!folder) GTEST_SKIP() << "FUELWRIGHT_OUTSIDE_DATA is not set";
    data_ = folder;
    std::string name =
        (std::filesystem::temp_directory_path() / "fuelwright_outside_XXXXXX").string();
    ASSERT_NE(mkdtemp(name.data()), nullptr);
    folder_ = name;
    job_ = folder_ + "/car.fw";
  }
  void TearDown() override {
    if (!folder_.empty()) std::filesystem::remove_all(folder_);
  }
  Result<AddReply> add(const std::string& file) {
    auto bytes = signals::read_file(data_ + "/recordings/" + file);
    if (!bytes) return bytes.error();
    return add_recording({job_, file, std::move(*bytes), {}, std::nullopt, who_});
  }

  Who who_{"Kim", "2026-05-04T09:30:00Z"};
  std::string data_, folder_, job_;
};

TEST_F(OutsideRealJobs, TheLongTermTrimOfTheSmallCarComesOutAsOneWholeTableShift) {
  ASSERT_TRUE(new_job({job_, kSmallCar, "small.toml", std::nullopt, std::nullopt, who_}));
  const auto added = add("small_car_1200.csv");
  ASSERT_TRUE(added) << added.error().line();
  const auto e = estimate({job_, advice::Way::trims, false, who_});
  ASSERT_TRUE(e) << e.error().line();
  EXPECT_EQ(e->evidence->what, car::TableWhat::correction);
  EXPECT_NEAR(e->shift, 0.145, 0.035);  // about +14.5 % everywhere (checks of the outside data)
}

TEST_F(OutsideRealJobs, MeteredAirGivesTheSmallCarAVeTable) {
  ASSERT_TRUE(new_job({job_, kSmallCar, "small.toml", std::nullopt, std::nullopt, who_}));
  ASSERT_TRUE(add("small_car_1200.csv"));
  const auto e = estimate({job_, advice::Way::metered_air, false, who_});
  ASSERT_TRUE(e) << e.error().line();
  EXPECT_EQ(e->evidence->what, car::TableWhat::ve);
  EXPECT_GT(e->measured, 10);
  // 2000 rpm, 80 kPa: medians there are about 0.54 (read from the recording).
  car::Surface ve{e->evidence->grid, e->evidence->estimate};
  EXPECT_NEAR(ve.at({.speed = rpm(2000), .map = absolute(78.0 * kPa)}), 0.54, 0.05);
}

TEST_F(OutsideRealJobs, TheCompactCarWithoutAMixtureSensorTeachesByItsTrimsOnly) {
  ASSERT_TRUE(new_job({job_, kSmallCar, "small.toml", std::nullopt, std::nullopt, who_}));
  for (const char* file : {"compact_1500_drive1.csv", "compact_1500_live1.csv",
                           "compact_1500_long2.csv", "compact_1500_idle10.csv"}) {
    const auto added = add(file);
    ASSERT_TRUE(added) << added.error().line();
    EXPECT_EQ(added->columns.size(), 27U) << file;
    ASSERT_EQ(added->teaches.size(), 1U) << file;
    EXPECT_EQ(added->teaches[0], advice::describe(advice::Way::trims));
  }
  const auto e = estimate({job_, std::nullopt, false, who_});
  ASSERT_TRUE(e) << e.error().line();
  EXPECT_EQ(e->evidence->what, car::TableWhat::correction);
  const auto air = estimate({job_, advice::Way::metered_air, false, who_});
  ASSERT_FALSE(air);  // there is no air meter in this car
  EXPECT_NE(air.error().message.find("metered air"), std::string::npos);
}

}  // namespace
}  // namespace fuelwright::service
