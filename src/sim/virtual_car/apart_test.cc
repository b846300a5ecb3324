// The truth and its estimator may agree only because both are right: they share no code for film,
// exhaust, sensor or air. Physics enters the virtual car in one place, where its air is tabulated.
#include <gtest/gtest.h>

#include <filesystem>
#include <fstream>
#include <sstream>
#include <string>

namespace fuelwright::sim::virtual_car::apart_test {
namespace {

namespace fs = std::filesystem;

bool is_code(const fs::path& path) {
  const std::string name = path.filename().string();
  return (name.ends_with(".cc") || name.ends_with(".h")) && !name.ends_with("_test.cc") &&
         !name.ends_with("_bench.cc") && name != "test_car.h";
}

std::string text_of(const fs::path& path) {
  std::ifstream in(path);
  std::ostringstream text;
  text << in.rdbuf();
  return text.str();
}

template <class Each>
int over_code(const std::string& folder, Each each) {
  int files = 0;
  for (const auto& entry :
       fs::recursive_directory_iterator(fs::path(FUELWRIGHT_SOURCE_DIR) / "src" / folder)) {
    if (!entry.is_regular_file() || !is_code(entry.path())) continue;
    ++files;
    each(entry.path().filename().string(), text_of(entry.path()));
  }
  return files;
}

TEST(TruthAndEstimator, TheVirtualCarIncludesPhysicsOnlyWhereItsAirIsTabulated) {
  const int files = over_code("sim/virtual_car", [](const std::string& name, const std::string& t) {
    EXPECT_EQ(t.find("#include \"advice/"), std::string::npos) << name;
    EXPECT_EQ(t.find("#include \"signals/"), std::string::npos) << name;
    if (name != "engine_air.cc") {
      EXPECT_EQ(t.find("#include \"physics/"), std::string::npos) << name;
    }
  });
  EXPECT_GT(files, 15);
}

TEST(TruthAndEstimator, NothingOfAdviceKnowsTheVirtualCar) {
  const int files = over_code("advice", [](const std::string& name, const std::string& t) {
    EXPECT_EQ(t.find("#include \"sim/"), std::string::npos) << name;
    EXPECT_EQ(t.find("virtual_car"), std::string::npos) << name;
  });
  EXPECT_GT(files, 15);
}

}  // namespace
}  // namespace fuelwright::sim::virtual_car::apart_test
