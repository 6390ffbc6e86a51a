from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('fleet', '0013_fill_summaries'),
    ]

    operations = [
        migrations.AddIndex(
            model_name='sitesummary',
            index=models.Index(fields=['company', 'next_move', 'move_since', 'site'], name='summary_by_move'),
        ),
        migrations.AddIndex(
            model_name='sitesummary',
            index=models.Index(fields=['company', 'stage', 'stage_since', 'site'], name='summary_by_stage'),
        ),
        migrations.AddIndex(
            model_name='sitesummary',
            index=models.Index(fields=['company', 'stage_since', 'site'], name='summary_by_age'),
        ),
        migrations.AddIndex(
            model_name='sitesummary',
            index=models.Index(fields=['company', 'address_key', 'site'], name='summary_by_address'),
        ),
        migrations.AddIndex(
            model_name='sitesummary',
            index=models.Index(fields=['company', 'owner_key', 'site'], name='summary_by_owner'),
        ),
        migrations.AddIndex(
            model_name='sitesummary',
            index=models.Index(fields=['company', 'pv_watts', 'site'], name='summary_by_power'),
        ),
        migrations.AddIndex(
            model_name='sitesummary',
            index=models.Index(fields=['company', 'storage_wh', 'site'], name='summary_by_storage'),
        ),
        migrations.AddIndex(
            model_name='sitesummary',
            index=models.Index(fields=['company', 'device_count', 'site'], name='summary_by_devices'),
        ),
        migrations.AddIndex(
            model_name='sitesummary',
            index=models.Index(fields=['company', 'stage', 'next_move', 'invitation_state', 'missing_permissions', 'region', 'kinds', 'model_ids', 'site'], name='summary_for_counts'),
        ),
    ]
