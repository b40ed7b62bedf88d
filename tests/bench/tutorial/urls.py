"""The router with one view set."""

from rest_framework import routers, serializers, viewsets

from tests.bench.tutorial.readings.models import Reading


class ReadingSerializer(serializers.ModelSerializer):
    """All fields."""

    class Meta:
        model = Reading
        fields = "__all__"


class Readings(viewsets.ModelViewSet):
    """List, read, create."""

    queryset = Reading.objects.all()
    serializer_class = ReadingSerializer


router = routers.DefaultRouter()
router.register("readings", Readings)
urlpatterns = router.urls
